"""
Learn from a finished visit: what had failed, what had not, what had been called, and how long the readings took.

Only a visit whose outcome is known teaches odds: somebody says which parts were faulty, and that it works again. While
it does not work, nobody knows what else is wrong with it, so nothing of it is counted but the times.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kilter.circuit.board import Board
from kilter.diagnose.learned_odds_counts import NO_AGE, UNKNOWN, Count, band_of, family_of
from kilter.diagnose.posterior import Posterior
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.experience import plain_counts
from kilter.services.learn_times import Times, times_of
from kilter.services.report_calibration import Told
from kilter.services.visit_log import VisitLog


@dataclass(frozen=True)
class Outcome:
    """
    How a visit ended.

    Args:
        found: The parts that were faulty, each with its mode or 'unknown'.
        works: Whether the object does its work again.
        years: Age of the object; None where it is not known.
    """

    found: Mapping[str, str]
    works: bool
    years: float | None = None


@dataclass(frozen=True)
class Lesson:
    """
    What one visit taught.

    Args:
        visit: SHA-256 that tells this visit from others, whatever its file is called.
        counts: By kind and age; none while the object does not work.
        calls: What was said about each part before anything was done to the object, and what was so.
        times: How long its readings, changes of state and repairs took.
    """

    visit: str
    counts: tuple[Count, ...]
    calls: tuple[Told, ...]
    times: Times


def outcome_of(words: Sequence[str], *, works: bool, years: float | None = None) -> Outcome:
    """
    The outcome that a person types, as PART:MODE, PART, or 'none'.

    Raises:
        BadInput: A part named twice, or 'none' beside a part.

    >>> outcome_of(["C5:low", "R2"], works=True).found
    {'C5': 'low', 'R2': 'unknown'}
    """
    doing, found = "Cannot note what was found", {}
    for word in words:
        part, _, mode = word.partition(":")
        if part in found or (word == "none" and len(words) > 1):
            raise BadInput(
                doing, f"'{word}' among {', '.join(words)}", "each part once, or 'none' alone", "Correct it."
            )
        if word != "none":
            found[part] = mode or UNKNOWN
    return Outcome(found, works, years)


def before_deeds(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """
    Readings up to the first deed.

    >>> len(before_deeds([Reading("TP1", "voltage", 1.0), Reading("C5", "done", None, "renewed")]))
    1
    """
    first = next((n for n, one in enumerate(readings) if one.quantity == "done"), len(readings))
    return tuple(readings[:first])


def lesson_of(board: Board, log: VisitLog, outcome: Outcome, called: Posterior | None) -> Lesson:
    """
    What a finished visit teaches.

    Args:
        board: Of the visit.
        log: Its entries.
        outcome: What a person says was found.
        called: What was believed after the readings before the first deed; None where there were none.

    Raises:
        BadInput: The board has no such part or mode, or the visit has no entry.
    """
    if not log.entries:
        raise BadInput("Cannot learn from the visit", "no entry in it", "a visit with entries", "Name its visit file.")
    check_outcome(board, outcome)
    counts = _counts(board, outcome) if outcome.works else ()
    calls: tuple[Told, ...] = ()
    if outcome.works and called is not None:
        calls = tuple(Told(share, part in outcome.found) for part, share in called.parts().items())
    return Lesson(_identity(board, log), counts, calls, times_of(board, log))


def check_outcome(board: Board, outcome: Outcome) -> None:
    """
    Nothing, where the board has these parts and modes.

    Raises:
        BadInput: It has not.
    """
    for part, mode in outcome.found.items():
        if part not in board.parts:
            names = sorted(board.parts)
            raise BadInput(
                "Cannot note what was found", f"the part '{part}'", ", ".join(names[:40]), "Use a part's name."
            )
        if mode != UNKNOWN:
            family_of(board.parts[part], mode)


def body_of(lesson: Lesson, board: str, file: str) -> dict[str, object]:
    """
    A lesson as the plain data of an entry.

    Args:
        lesson: What a visit taught.
        board: Name of its board.
        file: What the visit is called where it is kept.
    """
    return {
        "visit": lesson.visit,
        "board": board,
        "file": file,
        "counts": plain_counts(lesson.counts),
        "calls": [[one.probability, one.so] for one in lesson.calls],
        "minutes": {key: list(times) for key, times in lesson.times.readings.items()},
        "setups": list(lesson.times.setups),
        "repairs": {key: list(times) for key, times in lesson.times.repairs.items()},
    }


def _counts(board: Board, outcome: Outcome) -> tuple[Count, ...]:
    """Every part of the board was looked at: the object works, so those not named are taken as good."""
    band = band_of(outcome.years)
    rows: dict[tuple[str, str], tuple[int, dict[str, int]]] = {}
    for ref, part in sorted(board.parts.items()):
        key = (part.kind, band if part.original else NO_AGE)
        parts, failures = rows.get(key, (0, {}))
        if ref in outcome.found:
            mode = outcome.found[ref]
            family = mode if mode == UNKNOWN else family_of(part, mode)
            failures = {**failures, family: failures.get(family, 0) + 1}
        rows[key] = (parts + 1, failures)
    first = {kind: (kind, band) for kind, band in reversed(rows)}
    return tuple(
        Count(*key, parts, failures, objects=int(first[key[0]] == key)) for key, (parts, failures) in rows.items()
    )


def _identity(board: Board, log: VisitLog) -> str:
    """From the board and the visit's first entry, which nothing changes later."""
    first = log.entries[0]
    words = "\0".join(
        [board.name, first.time, first.who, first.kind, *(f"{k}={v}" for k, v in sorted(first.words.items()))]
    )
    return hashlib.sha256(words.encode()).hexdigest()
