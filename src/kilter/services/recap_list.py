"""List the ageing capacitors of a board with what would stand in for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from kilter.circuit.board import GROUND, Board, State
from kilter.measure.tables import table
from kilter.planning.recap import RecapLine, advice, ages, recap_line
from kilter.records.part import Part
from kilter.safety.first_power.polarity import Polarity, polarities
from kilter.safety.first_power.supply_sweep import sweep_supply

CAUTIONS = (
    "This is a list of what ages, not an order to replace it. A part that measures well and does not leak may stay; "
    "every original that goes is a loss to the object.",
    "The voltages are those at rest on high mains: what switching on or a signal adds was not looked at.",
    "Discharge large capacitors through a resistor and measure before touching; the plug being out says nothing about "
    "them. Mains and picture-tube circuits are for licensed practice under local codes.",
    "Record and photograph how each one sits before it is removed: the print on a board can be wrong, and the stripe "
    "marks minus on aluminium and plus on moulded tantalum.",
    "Keep every original in a bag with the object's number, its reference, the date and your name.",
    "Replace one at a time and test between, so that a mistake shows where it was made.",
)


@dataclass(frozen=True)
class RecapList:
    """
    The list.

    Args:
        board: Title.
        revision: Of the design.
        lines: By reference, as the board has them.
        celsius: Temperature class to prefer. [degC]
    """

    board: str
    revision: str
    lines: tuple[RecapLine, ...]
    celsius: float

    @property
    def unsettled(self) -> tuple[str, ...]:
        """References for which something has to be read on the part first."""
        return tuple(one.part for one in self.lines if not one.settled)

    def to_buy(self) -> list[dict[str, Any]]:
        """Pieces by value, rating and kind; only lines of which both are known."""
        counted = Counter((one.kind, one.new_capacitance, one.new_volts) for one in self.lines if one.settled)
        return [{"kind": kind, "capacitance": value, "volts": volts, "count": count}
                for (kind, value, volts), count in sorted(counted.items())]  # fmt: skip

    def advice(self) -> dict[str, str]:
        """What is to be thought of, by kind."""
        return {kind: advice(kind) for kind in dict.fromkeys(one.kind for one in self.lines)}

    def noted(self) -> list[tuple[str, str]]:
        """References and the note that they share, in the order of the first of them."""
        shared: dict[str, list[str]] = {}
        for line in self.lines:
            for note in line.notes:
                shared.setdefault(note, []).append(line.part)
        return [(", ".join(parts), note) for note, parts in shared.items()]

    def plain(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "board": self.board, "revision": self.revision, "celsius": self.celsius,
            "lines": [{**asdict(one), "notes": list(one.notes), "settled": one.settled} for one in self.lines],
            "advice": self.advice(), "to_buy": self.to_buy(), "unsettled": list(self.unsettled),
            "cautions": list(CAUTIONS),
        }  # fmt: skip


def recap_list(board: Board) -> RecapList:
    """The list of a board; empty where it has no capacitor that ages."""
    aging = [part for part in board.parts.values() if ages(part)]
    known = _healthy(board) if aging else {}
    lines = tuple(recap_line(part, _held(board, part, known.get(part.ref)), _plus(board, part, known.get(part.ref)))
                  for part in aging)  # fmt: skip
    return RecapList(board.name, board.revision, lines, float(table("planning/recap")["celsius"]["value"]))


def _healthy(board: Board) -> Mapping[str, Polarity]:
    """The polarised capacitors of the circuit with what the healthy board holds across them, the most of all states."""
    found: dict[str, Polarity] = {}
    for state in board.states.values():
        sources = _sources(board, state)
        if not state.powered or not sources:
            continue
        swept = sweep_supply(board, state, sources, ())
        for one in polarities(board, swept.equations, swept.nominal[:, -1]):
            if one.part not in found or one.volts > found[one.part].volts:
                found[one.part] = one
    return found


def _sources(board: Board, state: State) -> list[str]:
    return [one.name for one in board.elements.values()
            if one.kind == "V" and not one.part and state.supplies.get(one.name, one.value)]  # fmt: skip


def _held(board: Board, part: Part, known: Polarity | None) -> float | None:
    """The worst that is known across a part: what the circuit holds on high mains, and its rail's limit. [V]"""
    held = [] if known is None else [known.volts * float(table("planning/recap")["mains_high"]["value"])]
    nets = set(part.pins.values())
    held += [max(abs(rail.low), abs(rail.high)) for rail in board.rails.values() if nets == {rail.net, GROUND}]
    return max(held, default=None)


def _plus(board: Board, part: Part, known: Polarity | None) -> str:
    if known is not None and known.plus:
        return known.where
    nets = set(part.pins.values())
    rail = next((rail for rail in board.rails.values() if nets == {rail.net, GROUND}), None)
    return "" if rail is None else rail.name if rail.nominal > 0 else "ground"
