"""
Reach: the chance that a fault changes a reading, told from the nets alone.

A simple and honest fault model for a board without a schematic's functions: a fault of a part makes readings on its own
nets uncertain, those one part further on a little, and leaves all others as on a healthy board. What it cannot see: a
stopped clock that silences a chip far away; such a reading is explained by parts near that chip, or by nothing.
"""

from __future__ import annotations

from collections.abc import Mapping

from kilter.circuit.board import GROUND, Board
from kilter.simulate.reference.figures import number


class Reach:
    """The nets of a board and which of them are shared by many parts."""

    def __init__(self, board: Board) -> None:
        self.board = board
        pins = board.nets()
        rails = {rail.net for rail in board.rails.values()}
        self.shared = {net for net, on in pins.items() if net in rails or len(on) > number("crowd")} - {GROUND}
        self._parts = {net: {pin.split(".")[0] for pin in on} for net, on in pins.items()}
        self._nets: dict[str, Mapping[str, float]] = {}

    def of(self, ref: str) -> Mapping[str, float]:
        """Net to the chance that a fault of the part changes a reading there."""
        if ref not in self._nets:
            self._nets[ref] = self._found(ref)
        return self._nets[ref]

    def chance(self, ref: str, place: str) -> float:
        """
        Chance that a fault of the part changes a reading at a point, or on or across a part.

        A reading between two nets changes if that of either does.
        """
        if place in self.board.points:
            point = self.board.points[place]
            nets = {point.net, point.against}
        elif place == ref:
            return number("own_net")
        else:
            part = self.board.parts.get(place)
            nets = set(part.pins.values()) if part is not None else set()
        return max((self.of(ref).get(net, 0.0) for net in nets - {GROUND}), default=0.0)

    def _found(self, ref: str) -> Mapping[str, float]:
        own = self._own(ref)
        found: dict[str, float] = {}
        for neighbour in {part for net in own - self.shared for part in self._parts.get(net, ())}:
            found |= dict.fromkeys(self._own(neighbour) - self.shared, number("next_net"))
        return found | {net: number("shared_net" if net in self.shared else "own_net") for net in own}

    def _own(self, ref: str) -> set[str]:
        part = self.board.parts.get(ref)
        return set(part.pins.values()) - {GROUND} if part is not None else set()
