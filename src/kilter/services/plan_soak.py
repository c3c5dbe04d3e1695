"""Plan a soak: what to log on this board, where it stops, how often to look, and what it would prove."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from typing import Any

from kilter.circuit.board import Board, State
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale
from kilter.planning.numbers import number
from kilter.planning.soak.channel import Channel
from kilter.planning.soak.proved import Bound
from kilter.planning.soak.schedule import Stage, false_alarms, proofs, stages
from kilter.records.test import Test
from kilter.services.evidence_of import make_test
from kilter.services.visit_states import follow
from kilter.simulate.chain import Chain

CAUTIONS = (
    "A soak powers an old object for hours. Nobody should leave it alone on the mains; who may run it, and where, is "
    "for the rules of the house. Keep the means to pull the plug within reach and a smoke alarm in the room.",
    "Log with instruments whose leads can stay where they are: a clip that slips may short two pins.",
    "Hours without failure prove a bound on the mean time between failures and nothing else; they do not say that the "
    "object is safe, nor that it will not wear.",
)
WARM_KINDS = ("regulator", "transformer", "valve")
"""Kinds of parts that run warm in their work and get a channel each."""


@dataclass(frozen=True)
class SoakPlan:
    """
    The plan.

    Args:
        board: Title.
        state: In which it runs.
        hours: Length. [h]
        stages: How often to log when.
        channels: What to log, with the limits at which it stops.
        unlimited: Channels for which no limit could be found.
        false_alarms: To be expected of a steady object over the whole soak.
        proofs: What the hours would prove if nothing fails.
    """

    board: str
    state: str
    hours: float
    stages: tuple[Stage, ...]
    channels: tuple[Channel, ...]
    unlimited: tuple[str, ...]
    false_alarms: float
    proofs: tuple[Bound, ...]

    def plain(self) -> dict[str, Any]:
        """As plain data."""
        return {**asdict(self), "cautions": list(CAUTIONS)}


def plan_soak(board: Board, chain: Chain, hours: float, state_name: str = "") -> SoakPlan:
    """
    Plans it.

    Args:
        board: Of the object.
        chain: Its predictors, for limits that no rail declares.
        hours: Length. [h]
        state_name: Powered state; the first that may be proposed unless given.

    Raises:
        BadInput: No such state, or none that is powered.
    """
    state = _powered(board, state_name)
    steps = stages(hours)
    channels = [*_rails(board), *_predicted(board, chain, state)]
    kept = {one.name: one for one in reversed(channels)}
    ordered = tuple(kept[name] for name in dict.fromkeys(one.name for one in channels))
    unlimited = tuple(one.name for one in ordered if math.isinf(one.low) and math.isinf(one.high))
    return SoakPlan(board.name, state.name, hours, steps, ordered, unlimited, false_alarms(hours, len(ordered)),
                    proofs(hours))  # fmt: skip


def _powered(board: Board, name: str) -> State:
    found = board.state(name) if name else next((s for s in board.states.values() if s.powered and s.offered), None)
    if found is None or not found.powered:
        shown = f"the state '{name}', in which nothing is on" if found else "no powered state"
        allowed = ", ".join(one.name for one in board.states.values() if one.powered) or "none: the board has none"
        raise BadInput("Cannot plan a soak", shown, allowed, "Name a powered state, or add one to the board file.")
    return found


def _rails(board: Board) -> list[Channel]:
    points = {point.net: point for point in reversed(list(board.points.values())) if point.against == "0"}
    return [
        Channel(points[rail.net].name if rail.net in points else name, "voltage", "V", rail.low, rail.high,
                f"band of the rail {name}, from the board file")
        for name, rail in board.rails.items()
    ]  # fmt: skip


def _predicted(board: Board, chain: Chain, state: State) -> list[Channel]:
    """Supply currents, clocks and the temperature of what runs warm."""
    tests = [*_currents(board, state), *_clocks(board, state)]
    known = follow(board, ()).board
    asked = [test for test in tests if chain.answers(known, test)]
    found = chain.predict(known, state, [frozenset()], asked) if asked else None
    channels = []
    for test in tests:
        column = asked.index(test) if test in asked else -1
        mean = float(found.mean[0, column]) if found is not None and column >= 0 else math.nan
        spread = float(found.spread[0, column]) if found is not None and column >= 0 else math.nan
        channels.append(_channel(test, mean, spread))
    warm = [part.ref for part in board.parts.values() if part.kind in WARM_KINDS]
    rise = number("soak", "rise_limit")
    return channels + [Channel(f"{ref} rise", "temperature_rise", "K", -math.inf, rise, "usual limit for a part that a "
                               "finger can bear; give the part its own where it is known") for ref in warm]  # fmt: skip


def _currents(board: Board, state: State) -> list[Test]:
    names = [one.name for one in board.elements.values()
             if one.kind == "V" and not one.part and state.supplies.get(one.name, one.value)]  # fmt: skip
    return [make_test(board, name, "current", state.name) for name in names]


def _clocks(board: Board, state: State) -> list[Test]:
    signals = [name for one in board.blocks.values() if one.kind == "oscillator" for name in one.outputs.values()]
    return [make_test(board, name, "frequency", state.name) for name in signals if name in board.points]


def _channel(test: Test, mean: float, spread: float) -> Channel:
    what = quantity(test.quantity)
    plain = Channel(test.point, test.quantity, what.unit, why="nothing predicts it")
    if not math.isfinite(mean):
        return plain
    away = number("soak", "spread_limit") * spread
    low, high = (float(one) for one in from_scale(test.quantity, [mean - away, mean + away]))
    words = f"{number('soak', 'spread_limit'):g} standard deviations of healthy boards"
    if test.quantity == "current":
        return replace(plain, low=0.0, high=high * number("soak", "current_limit"),
                       why=f"{number('soak', 'current_limit'):g} times the most that healthy boards draw")  # fmt: skip
    return replace(plain, low=low, high=high, why=words)
