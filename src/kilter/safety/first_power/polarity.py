"""Which leg of a polarised capacitor ought to be the positive one, by what the circuit holds there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kilter.circuit.board import GROUND, Board
from kilter.safety.first_power.numbers import number
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.prediction import Floats

POLARISED = ("electrolytic", "tantalum")


@dataclass(frozen=True)
class Polarity:
    """
    One polarised capacitor.

    Args:
        part: Reference.
        plus: Net on which its positive leg belongs; '' where the circuit holds too little to tell.
        minus: The other net.
        volts: That the healthy nominal board holds across it at the full setting. [V]
        where: Words for the positive side: a point on it, or other pins of the net.
    """

    part: str
    plus: str
    minus: str
    volts: float
    where: str


def polarities(board: Board, equations: Equations, nominal: Floats) -> tuple[Polarity, ...]:
    """
    All polarised capacitors, by the volts of the healthy board.

    Args:
        board: With elements.
        equations: Of the powered board.
        nominal: Unknowns in pivot order at the full setting, shape (n + 1,).
    """
    found = []
    for part in board.parts.values():
        nets = list(part.pins.values())
        if part.kind not in POLARISED or len(nets) != 2 or not set(nets) <= equations.node_place.keys():
            continue
        volts = float(nominal[equations.node_place[nets[0]]] - nominal[equations.node_place[nets[1]]])
        plus, minus = nets if volts >= 0 else nets[::-1]
        known = abs(volts) > number("reverse", "volts")
        found.append(Polarity(part.ref, plus if known else "", minus if known else "", abs(volts),
                              _where(board, plus, part.ref) if known else ""))  # fmt: skip
    return tuple(found)


def _where(board: Board, net: str, ref: str) -> str:
    """Words for a net: ground, a rail, else the first few other pins on it."""
    if net == GROUND:
        return "ground"
    rails: Mapping[str, str] = {rail.net: name for name, rail in board.rails.items()}
    if net in rails:
        return rails[net]
    others = [place for place in board.nets().get(net, ()) if not place.startswith(f"{ref}.")]
    return f"{net} ({', '.join(others[:3])})" if others else net
