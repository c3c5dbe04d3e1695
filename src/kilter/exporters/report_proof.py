"""Acceptance lists and soaks of a dossier in the words of a report; what was not done is said."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.exporters.report_words import at
from kilter.measure.measured import engineering
from kilter.measure.units import units
from kilter.records.dossier import Dossier
from kilter.records.dossier_proof import ToldAcceptance, ToldChannel, ToldItem, ToldSoak

NO_ACCEPTANCE = (
    "No repair was held against an acceptance list. That what was seen looks right does not prove that nothing else is "
    "wrong."
)
NO_SOAK = "No soak was planned or recorded. How the object behaves after hours under power is not known."
RULE = (
    "A point is accepted only if, with the uncertainty of its reading, it lies within its limits with a chance of at "
    "least {share:g} %; a reading in the guard band beside a limit tells neither way. What was not read is open, never "
    "passed. An accepted list does not say that the object is safe, nor that it will last."
)
USUAL, COUNTED = 4, 7
"""Digits of limits, and of those of frequencies, which a counter reads to the sixth."""
ITEM_HEADS = ("where", "what", "state", "limits", "limits from", "less guard bands", "read", "verdict", "why")
CHANNEL_HEADS = ("channel", "limits", "values", "verdict", "why")


def acceptance_words(found: ToldAcceptance) -> tuple[str, ...]:
    """What stands above the table of a list."""
    count = {verdict: sum(one.verdict == verdict for one in found.items)
             for verdict in ("accepted", "rejected", "cannot tell", "open")}  # fmt: skip
    counts = ", ".join(f"{number} {verdict}" for verdict, number in count.items())
    words = [f"Visit {found.visit}: {found.verdict} ({counts})."]
    if found.faults:
        words.append(f"Made to catch: {'; '.join(found.faults)}.")
    words += [f"{one}." for one in found.not_whole]
    return (*words, RULE.format(share=100 * (1 - found.risk)))


def acceptance_rows(found: ToldAcceptance) -> tuple[tuple[str, ...], ...]:
    """One row for each item."""
    return tuple(
        (one.point, one.quantity.replace("_", " "), one.state, one.limits, one.source, _accepted(one),
         one.read or "not read", one.verdict, one.because) for one in found.items
    )  # fmt: skip


def _accepted(one: ToldItem) -> str:
    if not one.guarded:
        return "none: too coarse, or not read" if one.unit else ""
    return _between(one.accepts_low, one.accepts_high, one.unit, "anything")


def soak_heading(dossier: Dossier, found: ToldSoak) -> str:
    """What was planned, and what came of it."""
    planned = f"planned {found.planned_hours:g} h" if found.planned_hours else "no plan"
    state = f" in state '{found.state}'" if found.state else ""
    rest = " ".join(word for word in (at(found.at), dossier.shown(found.who)) if word)
    who = f" ({rest})" if rest else ""
    if not found.verdict:
        return f"Visit {found.visit}: {planned}{state}{who}. It was not done, or nothing of it was judged."
    noticed = f" Noticed besides: {found.words}" if found.words else ""
    return f"Visit {found.visit}: {planned}{state}; verdict {found.verdict}{who}.{noticed}"


def soak_tables(found: ToldSoak) -> Iterator[tuple[str, tuple[tuple[str, ...], ...]]]:
    """Words and rows of the plan where nothing was judged, else of each time of being on."""
    if not found.verdict:
        yield "What was to be logged:", tuple((one.channel, _limits(one), "", "not done", one.words)
                                              for one in found.channels)  # fmt: skip
    for one in found.sessions:
        lost = f"; {one.gaps:.2g} h in which nothing was logged are not counted" if one.gaps else ""
        rows = [(row.channel, _limits(row), str(row.values), row.verdict, row.words) for row in one.channels]
        rows += [(name, "", "0", "cannot tell", "nothing was logged") for name in one.missing]
        yield f"{one.source}: {one.hours:.4g} h watched{lost}.", tuple(rows)


def _limits(one: ToldChannel) -> str:
    return _between(one.low, one.high, one.unit, "none")


def _between(low: float | None, high: float | None, unit: str, otherwise: str) -> str:
    digits = COUNTED if unit == "Hz" else USUAL
    shown = [None if end is None else engineering(end, unit, digits) if unit in units() else f"{end:.6g} {unit}".strip()
             for end in (low, high)]  # fmt: skip
    if shown[0] is not None and shown[1] is not None:
        return f"{shown[0]} to {shown[1]}"
    if shown[0] is not None:
        return f"{shown[0]} or more"
    return f"{shown[1]} or less" if shown[1] is not None else otherwise
