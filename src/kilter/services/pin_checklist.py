"""
Checklist of a chip's pins: what each should show in the first seconds after power-up, in the order in which to look.

The order and the meaning come from data/logic/checklist.toml, the pins from the catalogue, the expected levels and what
stands behind a wrong one from the logic of the board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from kilter.circuit.board import GROUND, Board
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.parts.catalogue import CataloguePin, CatalogueType, find_type
from kilter.services.evidence_of import make_test
from kilter.simulate.logic.live_board import RESISTORS, LiveBoard, live_board
from kilter.simulate.logic.predictor import LogicPredictor

SURE = 0.75
"""Chance from which a word is printed as expected; below it, the group's general expectation stands."""

CAUTIONS = (
    "Before switching on, do the power checks; this list does not say that it is safe to do so.",
    "A probe that slips between two pins may destroy both chips. Clip on with the power off where you can.",
    "The levels were worked out for a program that visits all of its memory and ports. A word in brackets is likely "
    "only; a pin with 'not known' was not checked by the logic.",
)


@dataclass(frozen=True)
class PinCheck:
    """
    One pin.

    Args:
        group: Key of the group in the data.
        pin: Number.
        name: In the catalogue.
        net: On this board, '' where nothing is connected.
        expect: What it should show.
        word: The level that the logic of the board expects, '' where it cannot tell.
        chance: Of that word on a good board.
        wrong: What a wrong one points to.
        behind: Parts that drive or pull the net, as 'U3.4' or 'R2'.
        beside: Further pins on the net, which may hold it.
    """

    group: str
    pin: str
    name: str
    net: str
    expect: str
    word: str
    chance: float
    wrong: str
    behind: tuple[str, ...]
    beside: tuple[str, ...]


@dataclass(frozen=True)
class Checklist:
    """The checks of one part, in order."""

    part: str
    type: str
    words: str
    state: str
    checks: tuple[PinCheck, ...]
    cautions: tuple[str, ...]

    def plain(self) -> dict[str, Any]:
        """As plain data."""
        return asdict(self)


def pin_checklists(board: Board, parts: Sequence[str] = ()) -> tuple[Checklist, ...]:
    """
    The checklists of these parts, or of every processor.

    Raises:
        BadInput: A part that there is not or whose pins the catalogue does not know, or no processor.
    """
    known = {ref: find_type(part.value) for ref, part in board.parts.items()}
    listed = {ref: kind for ref, kind in known.items() if kind is not None and kind.pins and kind.technology}
    wanted = list(parts) or [ref for ref, kind in listed.items() if kind.function == "processor"]
    if not wanted:
        raise _cannot(board, "no part that the catalogue knows as a processor", listed)
    stranger = next((ref for ref in wanted if ref not in listed), None)
    if stranger is not None:
        raise _cannot(board, f"the part '{stranger}'", listed)
    levels = Levels(board)
    return tuple(_checklist(board, ref, listed[ref], levels) for ref in wanted)


class Levels:
    """The words that the good board shows, net by net."""

    def __init__(self, board: Board) -> None:
        self.board, self.live, self.predictor = board, live_board(board), LogicPredictor()
        self.state = next((state for state in board.states.values() if state.powered), None)

    def at(self, place: str) -> tuple[str, float]:
        """The likeliest word at a pin and its chance; ('', 0) where the logic does not tell."""
        if self.state is None:
            return "", 0.0
        test = make_test(self.board, place, "level", self.state.name)
        if not self.predictor.answers(self.board, test):
            return self._pulled(place)
        words, chances = self.predictor.predict(self.board, self.state, [frozenset()], [test]).words[0]
        best = int(np.argmax(chances[0]))
        return words[best], float(chances[0, best])

    def _pulled(self, place: str) -> tuple[str, float]:
        """The level of a net of which the logic knows no more than that a resistor pulls it."""
        ref, _, pin = place.partition(".")
        net = self.board.parts[ref].pins.get(pin, "")
        level = self.live.netlist.pulls.get(self.live.net(net)) if self.live else None
        return ({"0": "low", "1": "high"}[level], SURE) if level else ("", 0.0)


def _checklist(board: Board, ref: str, kind: CatalogueType, levels: Levels) -> Checklist:
    groups = table("logic/checklist")["group"]
    checks = [
        _check(board, ref, pin, group, kind, levels) for group in groups for pin in kind.with_role(*group["roles"])
    ]
    cautions = (*CAUTIONS, *((kind.caution,) if kind.caution else ()))
    state = levels.state.name if levels.state else ""
    return Checklist(ref, kind.key, kind.words, state, tuple(checks), cautions)


def _check(
    board: Board, ref: str, pin: CataloguePin, group: dict[str, Any], kind: CatalogueType, levels: Levels
) -> PinCheck:
    net = _net(board, ref, pin)
    word, chance = levels.at(f"{ref}.{pin.number}") if net else ("", 0.0)
    behind, beside = _around(board, ref, pin.number, net, levels.live)
    expect = _volts(board, net, kind, pin) if pin.direction == "power" else _level(word, chance, group["expect"])
    if not net:
        expect = "not connected on this board"
    return PinCheck(group["key"], pin.number, pin.name, net, expect, word, chance, group["wrong"], behind, beside)


def _net(board: Board, ref: str, pin: CataloguePin) -> str:
    """The net of a pin; a supply pin may have been renamed by an importer."""
    pins = board.parts[ref].pins
    renamed = {"supply": "vcc", "ground": "gnd"}.get(pin.role, "")
    return pins.get(pin.number, pins.get(renamed, ""))


def _volts(board: Board, net: str, kind: CatalogueType, pin: CataloguePin) -> str:
    """What a supply pin should read."""
    if net == GROUND:
        return "0 V"
    rail = next((rail for rail in board.rails.values() if rail.net == net), None)
    if rail is not None:
        return f"{rail.low:g} to {rail.high:g} V"
    known = kind.volts.get(pin.name)
    return f"about {known:g} V" if known is not None else "a supply that the board file does not name"


def _level(word: str, chance: float, general: str) -> str:
    if not word:
        return f"not known ({general})"
    return word if chance >= SURE else f"({word}) {general}"


def _around(
    board: Board, ref: str, number: str, net: str, live: LiveBoard | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What drives or pulls the net of a pin, and what else is on it; of a supply neither."""
    supplies = {rail.net for rail in board.rails.values()} | {GROUND, ""}
    if net in supplies or live is None:
        return (), ()
    behind: list[str] = []
    beside: list[str] = []
    for part in board.parts.values():
        for pin, other in part.pins.items():
            if live.net(other) != live.net(net) or (part.ref, pin) == (ref, number):
                continue
            drives = pin in live.netlist.pin_drivers.get(part.ref, {}) or part.ref in live.clock_parts
            pulls = part.kind in RESISTORS and bool(supplies & set(part.pins.values()))
            (behind if drives or pulls else beside).append(part.ref if pulls else f"{part.ref}.{pin}")
    return tuple(behind), tuple(beside)


def _cannot(board: Board, found: str, listed: dict[str, CatalogueType]) -> BadInput:
    return BadInput(
        f"Cannot make a checklist for board {board.name}", found,
        ", ".join(listed) or "chips whose value names a type of the catalogue",
        "Name one of these parts, or correct the value of the chip in the board file.",
    )  # fmt: skip
