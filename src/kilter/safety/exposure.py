"""What a wrong adaptor that was already used may have done: prior odds on the parts that it exposed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import Any

from kilter.circuit.board import Board
from kilter.measure.tables import table
from kilter.parts.kinds import modes_of
from kilter.safety.adaptor import REFUSED, AdaptorVerdict


@dataclass(frozen=True)
class Exposed:
    """
    A failure mode that the wrong adaptor makes likelier.

    Args:
        part: Reference on the board.
        mode: Its key.
        log_ratio: Log likelihood ratio against a healthy part.
        because: What it was exposed to.
    """

    part: str
    mode: str
    log_ratio: float
    because: str


def exposed_to(verdict: AdaptorVerdict) -> tuple[str, ...]:
    """In words, what an object saw that was fed from this adaptor; empty where nothing refused it."""
    return tuple(row["words"] for row in _rows(verdict))


def exposed(board: Board, verdict: AdaptorVerdict) -> tuple[Exposed, ...]:
    """
    The modes that became likelier, the most first.

    All parts of a kind count alike, whether they are near the input or not: the board's wiring is not asked. The
    weigher's readings soon outweigh that.
    """
    found: dict[tuple[str, str], Exposed] = {}
    for row in _rows(verdict):
        for ref, mode in _modes(board, row["parts"]):
            ratio = log(float(row["ratio"]))
            if (ref, mode) not in found or found[ref, mode].log_ratio < ratio:
                found[ref, mode] = Exposed(ref, mode, ratio, str(row["words"]))
    return tuple(sorted(found.values(), key=lambda one: (-one.log_ratio, one.part, one.mode)))


def _rows(verdict: AdaptorVerdict) -> list[dict[str, Any]]:
    refused = {one.rule for one in verdict.findings if one.level == REFUSED and " not known" not in one.words}
    return [row for row in table("safety/adaptor")["exposure"] if row["rule"] in refused]


def _modes(board: Board, parts: Mapping[str, Sequence[str]]) -> Iterable[tuple[str, str]]:
    for ref, part in board.parts.items():
        wanted = parts.get(part.kind, ())
        yield from ((ref, mode.key) for mode in modes_of(part) if mode.key in wanted)
