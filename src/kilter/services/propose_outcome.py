"""
Propose how a visit ended, from what was renewed and what had been called; a person confirms it, or says otherwise.

A part that was renewed is not for that a part that was faulty. What is proposed here comes partly from the model's own
calls: whoever confirms it without a look at the part teaches the model nothing but itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kilter.circuit.board import Board
from kilter.diagnose.learned_odds_counts import UNKNOWN
from kilter.diagnose.posterior import Posterior
from kilter.measure.tables import table
from kilter.records.reading import Reading

RENEWED = "renewed"
AT_BENCH = "renewed at the bench"
MENDS = ("replaced", "cleaned", "resoldered", "adjusted", "refitted")
"""Acts of repair that may have taken a fault away; a replaced part most plainly."""


@dataclass(frozen=True)
class Candidate:
    """
    A part that may have been faulty.

    Args:
        part: Its name on the board.
        why: What was done to it.
        called: Probability that it was faulty, before anything was done; None where nothing had been read.
        mode: The mode that leads by far, else 'unknown'.
        suggested: Whether it is proposed as faulty.
    """

    part: str
    why: str
    called: float | None
    mode: str
    suggested: bool


def mended(board: Board, readings: Iterable[Reading], repairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """
    Parts that something was done to, with what was done; a renewal comes before everything else.

    Args:
        board: Whose parts.
        readings: Of the visit, deeds among them.
        repairs: Act and the words under 'part' of what was recorded, in which several parts may be named.
    """
    found: dict[str, str] = {}
    for one in readings:
        if one.quantity == "done" and one.word == RENEWED and one.point in board.parts:
            found[one.point] = AT_BENCH
    told = [(act, part) for act, words in repairs if act in MENDS for part in parts_named(board, words)]
    for act, part in sorted(told, key=lambda pair: MENDS.index(pair[0])):
        found.setdefault(part, act)
    return found


def parts_named(board: Board, words: str) -> list[str]:
    """
    Parts of a board that a text names, each once.

    >>> from types import SimpleNamespace
    >>> parts_named(SimpleNamespace(parts={"R41": 1, "C5": 1}), "R41 and C5, C5")
    ['R41', 'C5']
    """
    names = [words.strip(), *re.split(r"[\s,;+/&]+", words)]
    return list(dict.fromkeys(name for name in names if name in board.parts))


def propose_outcome(done: Mapping[str, str], called: Posterior | None) -> tuple[Candidate, ...]:
    """
    Candidates, the likeliest first.

    Args:
        done: Parts with what was done to them, from `mended`.
        called: What was believed before anything was done; None where nothing had been read.
    """
    shares = dict(called.parts()) if called is not None else {}
    modes: dict[str, dict[str, float]] = {}
    for (part, mode), worth in called.modes().items() if called is not None else ():
        modes.setdefault(part, {})[mode] = worth
    renewed = [part for part, act in done.items() if act in (AT_BENCH, "replaced")]
    found = []
    for part, why in done.items():
        share = shares.get(part, 0.0) if called is not None else None
        likely = share is not None and share >= _number("suggested_from")
        found.append(Candidate(part, why, share, _leading(modes.get(part, {})), likely or renewed == [part]))
    return tuple(sorted(found, key=lambda one: (not one.suggested, -(one.called or 0.0), one.part)))


def _leading(modes: Mapping[str, float]) -> str:
    whole = sum(modes.values())
    mode, share = max(modes.items(), key=lambda pair: pair[1], default=("", 0.0))
    return mode if whole > 0 and share / whole >= _number("mode_from") else UNKNOWN


def _number(key: str) -> float:
    return float(table("learning/outcomes")[key]["value"])
