"""Every rail with the power off: what a meter reads to ground both ways round, and below what a short is looked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from kilter.circuit.board import GROUND, Board, Point, Rail, State
from kilter.measure.scales import from_scale
from kilter.records.test import Test
from kilter.safety.first_power.numbers import number
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.prediction import Hypothesis

HEALTHY: Hypothesis = frozenset()
BACKWARDS = "~backwards"


@dataclass(frozen=True)
class RailCheck:
    """
    One rail with the power off.

    Args:
        rail: Its name.
        point: A point on it that a probe reaches, '' where none is declared.
        label: Words that lead a hand to it.
        forward: Lowest and highest of healthy boards, red lead on the rail; None where nothing is predicted. [ohm]
        backward: The same with the leads exchanged. [ohm]
        least: A reading below this, either way, is looked into before any power; None where nothing is known. [ohm]
        doubt: Chance that the model does not hold, such as for chips whose junctions nobody described.
    """

    rail: str
    point: str
    label: str
    forward: tuple[float, float] | None
    backward: tuple[float, float] | None
    least: float | None
    doubt: float


def check_rails(board: Board, off: State, meter: str, amps: float | None, samples: int) -> tuple[RailCheck, ...]:
    """
    What to expect at every rail.

    Args:
        board: With rails.
        off: The unpowered state.
        meter: Class of the instrument.
        amps: Current that the whole board is planned to draw, None where nobody knows. [A]
        samples: Healthy boards looked at.
    """
    reached = [_point(board, rail) for rail in board.rails.values()]
    known = {net for element in board.elements.values() for net in element.nodes}
    asked = [(rail, point) for rail, point in zip(board.rails.values(), reached, strict=True)
             if rail.net in known and not off.powered]  # fmt: skip
    bands = _bands(board, off, meter, [rail for rail, _ in asked], samples)
    found = []
    for rail, point in zip(board.rails.values(), reached, strict=True):
        forward, backward, doubt = bands.get(rail.name, (None, None, 1.0))
        found.append(RailCheck(
            rail.name, point.name if point else "", point.label if point else "", forward, backward,
            _least(rail, forward, backward, amps), doubt,
        ))  # fmt: skip
    return tuple(found)


def _point(board: Board, rail: Rail) -> Point | None:
    on_it = [one for one in board.points.values() if one.net == rail.net and one.reachable and one.grade > 0]
    return next((one for one in on_it if one.against == GROUND), None)


Band = tuple[float, float]


def _bands(
    board: Board, off: State, meter: str, rails: Sequence[Rail], samples: int
) -> dict[str, tuple[Band, Band, float]]:
    """Forward and backward band of each rail, and the doubt of the model."""
    if not rails:
        return {}
    points = {rail.name: Point(rail.name, rail.net) for rail in rails}
    points |= {rail.name + BACKWARDS: Point(rail.name + BACKWARDS, GROUND, rail.net) for rail in rails}
    probed = replace(board, points=points)
    tests = [Test(name, "resistance", off.name, meter) for name in points]
    found = CircuitPredictor(samples).predict(probed, off, [HEALTHY], tests)
    wide = number("ramp", "sigmas") * found.spread[0]
    ends = from_scale("resistance", np.stack([found.mean[0] - wide, found.mean[0] + wide]))
    band = {test.point: (float(ends[0, column]), float(ends[1, column])) for column, test in enumerate(tests)}
    doubt = {test.point: float(found.unknown[0, column]) for column, test in enumerate(tests)}
    return {name: (band[name], band[name + BACKWARDS], max(doubt[name], doubt[name + BACKWARDS]))
            for name in (rail.name for rail in rails)}  # fmt: skip


def _least(rail: Rail, forward: Band | None, backward: Band | None, amps: float | None) -> float | None:
    """Half the lowest healthy reading; without one, what would draw twice the planned current."""
    if forward is None or backward is None:
        return rail.nominal / (number("ohms", "trips") * amps) if amps and rail.nominal else None
    return number("ohms", "below") * min(forward[0], backward[0])
