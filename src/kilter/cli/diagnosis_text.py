"""A diagnosis as text for people: suspects and why, ties, what stays open, what to do next."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.cli.layout import bar, heading, wrapped
from kilter.cli.next_text import cautions, next_tests
from kilter.diagnose.explain import Reason
from kilter.services.diagnose import Diagnosis, Suspect
from kilter.services.wording import asked, kind_words, mode_words, percent, place_words, said, times

MOST_SUSPECTS, MOST_REASONS, MOST_MODES = 6, 3, 3
WORTH_REASONS = 0.05
"""Suspects below this probability are listed without their reasons."""
WORTH_MODE, SOLE = 0.05, 0.95
"""Modes with a smaller share of their part are left out; one with a larger share than the second stands without it."""
LOUD = 0.5
"""Readings with a smaller |log10 ratio| say little and are left out."""


def diagnosis_text(diagnosis: Diagnosis, *, withheld: bool = False) -> str:
    """The whole answer; `withheld` where tests with power on were left out until checks are passed."""
    first = (_opening, _suspects, _ties, _unexplained, _decision, next_tests)
    lines = [line for part in first for line in part(diagnosis)]
    return "\n".join([*lines, *cautions(diagnosis, withheld=withheld), *_closing(diagnosis)])


def _opening(diagnosis: Diagnosis) -> Iterator[str]:
    board, count = diagnosis.visit.board, len(diagnosis.visit.readings)
    revision = f" (revision {board.revision})" if board.revision else ""
    yield f"{board.name}{revision}: {count} reading{'' if count == 1 else 's'} weighed."
    done = [f"{part} renewed" for part in sorted(diagnosis.visit.deeds.renewed)]
    done += [f"{part} pulled" for part in sorted(diagnosis.visit.deeds.unplugged)]
    done += [f"{pin} lifted" for pin in sorted(diagnosis.visit.deeds.lifted)]
    if done:
        yield f"Done to the object so far: {', '.join(done)}."


def _suspects(diagnosis: Diagnosis) -> Iterator[str]:
    yield heading("suspects now")
    for one in diagnosis.suspects[:MOST_SUSPECTS]:
        line = f"{one.part:<8} {bar(one.probability)}  {percent(one.probability):>11}  "
        yield wrapped(line + _fault_words(diagnosis, one), 2, len(line))
        if one.probability >= WORTH_REASONS:
            yield from _reasons(diagnosis, one)
    more = diagnosis.suspects[MOST_SUSPECTS:]
    if more:
        yield wrapped("and " + ", ".join(f"{one.part} {percent(one.probability)}" for one in more), 2, 2)
    healthy, outside = diagnosis.posterior.healthy, diagnosis.posterior.not_in_model
    yield f"  {'nothing':<8} {bar(healthy)}  {percent(healthy):>11}  no fault that the model knows is present now"
    yield f"  {'other':<8} {bar(outside)}  {percent(outside):>11}  something that is not in the model"


def _fault_words(diagnosis: Diagnosis, one: Suspect) -> str:
    """The kind of part and its likeliest modes, with their shares where there is a choice."""
    board = diagnosis.visit.board
    modes = [(mode_words(board, (one.part, mode)), share / one.probability) for mode, share in one.modes]
    most = MOST_MODES if one.probability >= WORTH_REASONS else 1
    seen = [(words, share) for words, share in modes if share >= WORTH_MODE][:most]
    told = " or ".join(words if share > SOLE else f"{words} ({percent(share)})" for words, share in seen)
    return f"{kind_words(board, one.part)}: {told}"


def _reasons(diagnosis: Diagnosis, one: Suspect) -> Iterator[str]:
    told = [reason for reason in one.because if abs(reason.weight) >= LOUD]
    shown = [reason for reason in told if reason.weight > 0][:MOST_REASONS]
    shown += [reason for reason in told if reason.weight < 0][:MOST_REASONS]
    for reason in shown:
        yield wrapped(_reason(diagnosis, reason), 11, 2)
    if not shown:
        yield wrapped("no single reading says much for or against it", 11)


def _reason(diagnosis: Diagnosis, reason: Reason) -> str:
    reading = diagnosis.visit.readings[reason.reading]
    return (
        f"{asked(reading)} read {said(reading)} {reason.words} it ({times(reason.weight)}): "
        f"with it {reason.expected}, healthy {reason.healthy}"
    )


def _ties(diagnosis: Diagnosis) -> Iterator[str]:
    for group in diagnosis.ties:
        if group == diagnosis.ties[0]:
            yield heading("ties")
        yield wrapped(f"{' and '.join(group)}: no test that is open now can tell them apart.", 2, 2)


def _unexplained(diagnosis: Diagnosis) -> Iterator[str]:
    if diagnosis.unexplained:
        yield heading("not explained")
    for one in diagnosis.unexplained:
        reading = diagnosis.visit.readings[one.reading]
        yield wrapped(f"{asked(reading)} read {said(reading)} in {reading.state}: {one.why}.", 2, 2)


def _decision(diagnosis: Diagnosis) -> Iterator[str]:
    decision, board = diagnosis.decision, diagnosis.visit.board
    yield heading("what to do")
    yield wrapped(decision.words, 2)
    if decision.best_parts:
        names = " and ".join(
            f"{part} ({words})" if (words := place_words(board, part)) else part for part in decision.best_parts
        )
        yield wrapped(f"Replacing {names} now would remove every fault with probability {percent(decision.fixed)}.", 2)


def _closing(diagnosis: Diagnosis) -> Iterator[str]:
    posterior = diagnosis.posterior
    yield heading("how much was looked at")
    words = f"{len(posterior.hypotheses):,} sets of faults. Of the probability of all sets they hold an estimated "
    words += f"{percent(posterior.visited_estimate)}; the bound that can be proved is {percent(posterior.visited_mass)}"
    yield wrapped(f"{words} (docs/command-line.md says what that means).", 2)
    if diagnosis.fallback_lanes or diagnosis.unsettled:
        yield wrapped(f"Circuits answered by ngspice: {diagnosis.fallback_lanes}; by nobody: {diagnosis.unsettled}.", 2)
