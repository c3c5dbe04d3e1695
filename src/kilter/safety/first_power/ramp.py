"""
The ramp: how far to turn the supply up at a time, with which current limit, and what to expect before going on.

Every short that a part of the board may have is carried along: a step is only as long as the limit keeps every other
part of the board within what it bears until the short shows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from kilter.circuit.board import Board, Rail, State
from kilter.parts.kinds import modes_of
from kilter.safety.first_power.bears import Bears, bears
from kilter.safety.first_power.numbers import number
from kilter.safety.first_power.stress import Loads, loads
from kilter.safety.first_power.supply_sweep import SupplySweep, sweep_supply
from kilter.simulate.prediction import Fault, Floats

SHORTS = ("short", "bridged")
"""Words in the keys of modes that may make a supply's current rise."""


@dataclass(frozen=True)
class RampStep:
    """
    One position of the supply.

    Args:
        share: Of the full setting.
        volts: Setting of each source. [V]
        limit: Current limit of the supply, and the current at which to switch off. [A]
        current: What healthy boards draw, lowest and highest. [A]
        rails: For each rail the band that healthy boards keep. [V]
    """

    share: float
    volts: Mapping[str, float]
    limit: float
    current: tuple[float, float]
    rails: Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class Unguarded:
    """A short that the steps do not show before another part bears too much; `times` its limit, at `share`."""

    fault: Fault
    part: str
    times: float
    share: float
    assumed: bool


@dataclass(frozen=True)
class Ramp:
    """
    The steps, and how good they are.

    Args:
        steps: In order, the last at the full setting.
        shorts: Shorts that were carried along.
        shown: Those that stop the ramp before anything else is overloaded.
        harmless: Those that overload nothing even at the full setting.
        unguarded: Those that may overload another part all the same, the worst first.
        unknown: Those whose circuit could not be solved.
        assumed: Parts whose limits were assumed.
    """

    steps: tuple[RampStep, ...]
    shorts: int
    shown: int
    harmless: int
    unguarded: tuple[Unguarded, ...]
    unknown: tuple[Fault, ...]
    assumed: tuple[str, ...]


def shorts_of(board: Board, state: State) -> list[Fault]:
    """Every mode that is a short of a part in place, by the words of its key."""
    return [
        (ref, mode.key)
        for ref, part in board.parts.items()
        if ref not in state.unplugged
        for mode in modes_of(part)
        if mode.circuit and any(word in mode.key for word in SHORTS)
    ]


def sweep_shorts(board: Board, state: State, sources: Sequence[str]) -> SupplySweep:
    """The board at every position of its supply, healthy and with each short that one of its parts may have."""
    return sweep_supply(board, state, sources, shorts_of(board, state))


def plan_ramp(board: Board, swept: SupplySweep) -> Ramp:
    """
    Plans the ramp of all sources together.

    Args:
        board: With elements.
        swept: What `sweep_shorts` found in a powered state.
    """
    held = loads(board, swept.equations, swept.nominal)
    limits = bears(board, {ref: one.worst() for ref, one in held.items()})
    steps = [_step(board, swept, place) for place in range(len(swept.shares))]
    stress = _stresses(board, swept, limits)
    stops = [_stop(swept, steps, row) for row in range(len(swept.faults))]
    chosen = _choose(steps, stress, stops)
    return _judged([steps[place] for place in chosen], swept, stress, stops, chosen, limits)


def _step(board: Board, swept: SupplySweep, place: int) -> RampStep:
    """What healthy boards show at one position, and the limit above it."""
    current = swept.healthy_current[place]
    high = float(current.mean() + number("ramp", "sigmas") * current.std())
    low = max(0.0, float(current.mean() - number("ramp", "sigmas") * current.std()))
    unit = number("ramp", "round_a")
    limit = ceil((high * (1 + number("ramp", "margin")) + number("ramp", "floor_a")) / unit) * unit
    rails = {name: _band(swept.healthy_rails[name][place]) for name in board.rails if name in swept.healthy_rails}
    share = float(swept.shares[place])
    return RampStep(share, {name: share * full for name, full in swept.full.items()}, limit, (low, high), rails)


def _band(volts: Floats) -> tuple[float, float]:
    middle = float(volts.mean())
    wide = float(number("ramp", "sigmas") * volts.std())
    wide += number("ramp", "rail_share") * abs(middle) + number("ramp", "rail_volts")
    return middle - wide, middle + wide


def _stresses(board: Board, swept: SupplySweep, limits: Mapping[str, Bears]) -> list[_Stress]:
    """For each short, what other parts bear at every position in shares of their limits."""
    count, unknowns, places = swept.faulty.shape
    volts = swept.faulty.transpose(1, 0, 2).reshape(unknowns, count * places)
    held = loads(board, swept.equations, volts)
    shares = {ref: _share(one, limits[ref]) for ref, one in held.items() if ref in limits}
    for rail in board.rails.values():
        if rail.name in swept.healthy_rails and rail.high > 0:
            shares[f"whatever is on {rail.name}"] = _overvolts(swept, rail, volts)
    shares = {name: one.reshape(count, places) for name, one in shares.items()}
    found = []
    for row, fault in enumerate(swept.faults):
        names = tuple(name for name in shares if name != fault[0])
        table = np.stack([shares[name][row] for name in names]) if names else np.zeros((1, places))
        found.append(_Stress(names or ("",), table))
    return found


@dataclass(frozen=True)
class _Stress:
    names: tuple[str, ...]
    table: Floats  # (names, positions), share of the limit

    def worst(self, place: float) -> tuple[float, str]:
        """The largest share at a position between grid places, and whose; of the two neighbours the worse."""
        columns = self.table[:, sorted({max(int(np.floor(place)), 0), max(int(np.ceil(place)), 0)})]
        peaks = np.nanmax(columns, axis=1)
        most = int(np.nanargmax(peaks))
        return float(peaks[most]), self.names[most]


def _share(one: Loads, limit: Bears) -> Floats:
    pairs = ((one.watts, limit.watts), (one.volts, limit.volts if one.is_capacitor else None), (one.amps, limit.amps))
    parts = [value / most for value, most in pairs if most]
    return np.asarray(np.max(parts, axis=0)) if parts else np.zeros_like(one.watts)


def _overvolts(swept: SupplySweep, rail: Rail, volts: Floats) -> Floats:
    most = rail.high * number("ramp", "overvolts")
    return np.asarray(np.abs(volts[swept.equations.node_place[rail.net]]) / most)


@dataclass(frozen=True)
class _Stop:
    """At which positions a short stops the ramp, and at which place (between grid places) the supply then stands."""

    stops: tuple[bool, ...]
    stands: tuple[float, ...]
    solved: bool


def _stop(swept: SupplySweep, steps: Sequence[RampStep], row: int) -> _Stop:
    current, stops, stands = swept.faulty_current[row], [], []
    for place, step in enumerate(steps):
        limited = current[place] >= step.limit
        outside = any(
            not low <= swept.faulty_rails[name][row, place] <= high for name, (low, high) in step.rails.items()
        )
        stops.append(bool(limited or outside))
        stands.append(_place_at(current[: place + 1], step.limit) if limited else float(place))
    return _Stop(tuple(stops), tuple(stands), bool(np.isfinite(current).all()))


def _place_at(current: Floats, limit: float) -> float:
    """The place, between grid places, at which the current first reaches the limit."""
    above = int(np.argmax(current >= limit))
    before = float(current[above - 1]) if above else 0.0
    return above - 1 + (limit - before) / max(float(current[above]) - before, 1e-30)


def _choose(steps: Sequence[RampStep], stress: Sequence[_Stress], stops: Sequence[_Stop]) -> list[int]:
    """Grid places of the steps: each as far as every short not yet shown keeps the others within their limits."""
    chosen: list[int] = []
    left = {row for row, one in enumerate(stops) if one.solved}
    place = -1
    while place < len(steps) - 1:
        after = place + 1
        for far in range(len(steps) - 1, place, -1):
            if far - place <= len(steps) // 4 and all(
                stress[row].worst(stops[row].stands[far])[0] <= 1.0 for row in left
            ):
                after = far
                break
        place = after
        chosen.append(place)
        left -= {row for row in left if stops[row].stops[place] or stress[row].worst(stops[row].stands[place])[0] > 1.0}
    return chosen


def _judged(
    steps: Sequence[RampStep],
    swept: SupplySweep,
    stress: Sequence[_Stress],
    stops: Sequence[_Stop],
    chosen: Sequence[int],
    limits: Mapping[str, Bears],
) -> Ramp:
    shown = harmless = 0
    unguarded, unknown = [], []
    for row, fault in enumerate(swept.faults):
        stop = stops[row]
        if not stop.solved:
            unknown.append(fault)
            continue
        until = next((at for at, place in enumerate(chosen) if stop.stops[place]), len(chosen) - 1)
        met = [(stress[row].worst(stop.stands[place]), swept.shares[place]) for place in chosen[: until + 1]]
        (times, part), share = max(met)
        if times > 1.0:
            assumed = part not in limits or limits[part].assumed
            unguarded.append(Unguarded(fault, part, times, float(share), assumed))
        elif stop.stops[chosen[until]]:
            shown += 1
        else:
            harmless += 1
    unguarded.sort(key=lambda one: -one.times)
    return Ramp(tuple(steps), len(swept.faults), shown, harmless, tuple(unguarded), tuple(unknown),
                tuple(ref for ref, one in limits.items() if one.assumed))  # fmt: skip
