"""Hazards of an object, from its kinds, its parts and what is written about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kilter.circuit.board import Board
from kilter.measure.measured import engineering
from kilter.measure.tables import table
from kilter.records.part import Part
from kilter.safety.supply.stored import energy

CAPACITORS = ("capacitor", "ceramic", "film", "paper", "electrolytic", "tantalum")
CHASSIS_NEED = "chassis potential known"
"""What powered tests of a set with a doubtful chassis ask for first."""


@dataclass(frozen=True)
class Hazard:
    """
    One hazard that something brings up.

    Args:
        key: Into the data file.
        title: For people.
        because: What brought it up.
        cautions: Sentences.
        at: The step where it matters: 'any', 'powered', 'unpowered', 'repair' or 'storage'.
        source: Of the cautions.
    """

    key: str
    title: str
    because: tuple[str, ...]
    cautions: tuple[str, ...]
    at: str
    source: str


def hazards(board: Board) -> tuple[Hazard, ...]:
    """
    All hazards that the data file and the board know of, in the file's order.

    An empty answer means that nothing brought one up, not that there is none.
    """
    found = []
    for row in table("safety/hazards")["hazards"]:
        because = [*_by_kind(board, row), *_by_part(board, row), *_by_word(board, row), *_by_figures(board, row["key"])]
        if row.get("always"):
            because.append("any repair")
        if because:
            why, cautions = tuple(dict.fromkeys(because)), tuple(row["cautions"])
            found.append(Hazard(row["key"], row["title"], why, cautions, row["at"], row["source"]))
    return tuple(found)


def chassis_in_doubt(board: Board) -> bool:
    """Whether tests against ground with power on wait until somebody has measured what the chassis is joined to."""
    if board.chassis:
        return board.chassis == "unknown"
    row = next(one for one in table("safety/hazards")["hazards"] if one.get("blocks"))
    return any(kind in row["kinds"] for kind in board.kinds) or any(word in _told(board) for word in row["words"])


def object_kinds() -> tuple[str, ...]:
    """The kinds of object that the data file knows."""
    return tuple(table("safety/hazards")["kinds"]["words"])


def _by_kind(board: Board, row: Mapping[str, Any]) -> list[str]:
    met = [kind for kind in board.kinds if kind in row.get("kinds", ())]
    if row["key"] == "hot_chassis" and board.chassis == "isolated":
        return []
    return [f"it is a {kind}" for kind in met]


def _by_part(board: Board, row: Mapping[str, Any]) -> list[str]:
    return [f"{part.ref} is a {part.kind}" for part in board.parts.values() if part.kind in row.get("parts", ())]


def _by_word(board: Board, row: Mapping[str, Any]) -> list[str]:
    found = []
    for word in row.get("words", ()):
        found += [f"{part.ref}: '{word}'" for part in board.parts.values() if word in _written(part)]
        if word in _told(board):
            found.append(f"'{word}' is written about the object")
    if row["key"] == "hot_chassis" and board.chassis in ("live", "unknown"):
        found.append(f"the chassis is said to be {board.chassis}")
    return found


def _told(board: Board) -> str:
    """What is written about the object as a whole."""
    return " ".join((board.name, *board.remarks, *(label.text for label in board.history.labels))).lower()


def _written(part: Part) -> str:
    return " ".join((part.value, *part.notes)).lower()


def _by_figures(board: Board, key: str) -> list[str]:
    """Voltages and charges that the board itself declares."""
    limits = table("safety/hazards")["limits"]
    rails = {rail.net: max(abs(rail.nominal), abs(rail.high), abs(rail.low)) for rail in board.rails.values()}
    if key == "high_voltage":
        return [f"rail {rail.name} up to {engineering(rails[rail.net], 'V')}" for rail in board.rails.values()
                if rails[rail.net] > limits["volts_dc"]]  # fmt: skip
    if key != "stored_charge":
        return []
    found = []
    for part in board.parts.values():
        volts = max((rails.get(net, 0.0) for net in part.pins.values()), default=0.0)
        if part.kind not in CAPACITORS or part.number is None or not volts:
            continue
        joules = energy(part.number, volts)
        if joules > limits["joules"] or (volts > limits["volts_dc"] and part.kind == "electrolytic"):
            found.append(f"{part.ref} holds {joules:.2g} J at {engineering(volts, 'V')}")
    return found
