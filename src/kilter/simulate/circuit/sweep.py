"""A sweep: every hypothesis on every tolerance sample, each lane checked, the unsettled ones sent elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import find_spec

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import Board, State
from kilter.simulate.circuit import numpy_lanes
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.faults import Move, changes
from kilter.simulate.circuit.islands import Islands
from kilter.simulate.prediction import Hypothesis

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Sweep:
    """
    Unknowns of every lane.

    Args:
        volts: In pivot order with ground last, NaN where a lane did not settle. [V, A], shape (H, n + 1, S)
        settled: Shape (H, S).
        floating: For each hypothesis, the nets that nothing holds.
        retried: Lanes that needed their shunts removed step by step.
    """

    volts: Floats
    settled: Flags
    floating: tuple[frozenset[str], ...]
    retried: int


def healthy_volts(equations: Equations, parameters: Floats) -> numpy_lanes.Settled:
    """The lanes of `parameters` solved from nothing, with shunts removed step by step where plain Newton fails."""
    start = np.zeros((equations.lu.size + 1, 1))
    first = numpy_lanes.settle(equations, parameters, start)
    return first if first.settled.all() else _retry(equations, parameters, first, start)


def sweep(
    board: Board,
    equations: Equations,
    state: State,
    hypotheses: Sequence[Hypothesis],
    parameters: Floats,
    *,
    extra: Sequence[Move] = (),
    compiled: bool | None = None,
) -> Sweep:
    """
    Solve all hypotheses on all samples in one state.

    Args:
        board: With elements.
        equations: Of that board, powered as the state is.
        state: Its supplies, switches, lifted pins and unplugged parts.
        hypotheses: Sets of faults.
        parameters: Healthy samples, shape (n_parameters, S).
        extra: Further moves in every lane, such as a meter's leads.
        compiled: Use the compiled kernel; None decides by the amount of work and by what is installed.
    """
    islands = Islands(equations)
    moves = [[*changes(board, equations, state, hypothesis), *extra] for hypothesis in hypotheses]
    cut = [_cut_off(islands, list_of_moves) for list_of_moves in moves]
    ties = [[(equations.parameter["tie", nets[0]], "set", engine_number("tie_s")) for nets in found] for found in cut]
    base_moves = [*changes(board, equations, state, frozenset()), *extra]
    base_cut = _cut_off(islands, base_moves)
    base_ties = [(equations.parameter["tie", nets[0]], "set", engine_number("tie_s")) for nets in base_cut]
    base = moved(parameters, [*base_moves, *base_ties])
    start = healthy_volts(equations, base)
    lanes = [[*one, *tie] for one, tie in zip(moves, ties, strict=True)]
    if use_compiled(equations, len(hypotheses) * parameters.shape[1], compiled):
        from kilter.simulate.circuit import numba_lanes

        volts, settled = numba_lanes.settle_all(equations, parameters, base, lanes, start.volts)
    else:
        volts, settled = _settle_all(equations, parameters, lanes, start.volts)
    retried = int((~settled).sum())
    if retried:
        _retry_all(equations, parameters, lanes, volts, settled)
    volts = np.where(settled[:, None, :], volts, np.nan)
    return Sweep(volts, settled, tuple(frozenset(net for nets in found for net in nets) for found in cut), retried)


def use_compiled(equations: Equations, lanes: int, asked: bool | None) -> bool:
    """Whether the compiled kernel is worth its start: it is installed and the work is long."""
    if asked is not None:
        return asked
    return lanes * equations.lu.steps > engine_number("compiled_from_steps") and find_spec("numba") is not None


def moved(parameters: Floats, moves: Sequence[Move]) -> Floats:
    """The parameters after some moves, a new table."""
    table = parameters.copy()
    for number, verb, amount in moves:
        if verb == "set":
            table[number] = amount
        else:
            table[number] *= amount
    return table


def _cut_off(islands: Islands, moves: Sequence[Move]) -> list[list[str]]:
    opened = {number for number, verb, amount in moves if verb == "set" and amount == 0.0}
    joined = {number for number, verb, amount in moves if verb == "set" and amount != 0.0}
    return islands.floating(opened=opened - joined, joined=joined)


def _settle_all(
    equations: Equations, parameters: Floats, lanes: Sequence[Sequence[Move]], start: Floats
) -> tuple[Floats, Flags]:
    """All hypotheses in numpy, as many at a time as keep the work inside the caches."""
    samples = parameters.shape[1]
    volts = np.empty((len(lanes), equations.lu.size + 1, samples))
    settled = np.empty((len(lanes), samples), dtype=bool)
    together = max(1, int(engine_number("numpy_lanes")) // samples)
    for first in range(0, len(lanes), together):
        group = lanes[first : first + together]
        columns = np.concatenate([moved(parameters, moves) for moves in group], axis=1)
        found = numpy_lanes.settle(equations, columns, np.tile(start, (1, len(group))))
        shape = (equations.lu.size + 1, len(group), samples)
        volts[first : first + len(group)] = found.volts.reshape(shape).transpose(1, 0, 2)
        settled[first : first + len(group)] = found.settled.reshape(len(group), samples)
    return volts, settled


def _retry_all(
    equations: Equations, parameters: Floats, lanes: Sequence[Sequence[Move]], volts: Floats, settled: Flags
) -> None:
    """Solve the unsettled lanes again, in place, with shunts on every net that are removed step by step."""
    where = np.argwhere(~settled)
    columns = np.stack([moved(parameters[:, s : s + 1], lanes[h])[:, 0] for h, s in where], axis=1)
    again = numpy_lanes.Settled(np.zeros((volts.shape[1], len(where))), np.zeros(len(where), dtype=bool))
    found = _retry(equations, columns, again, np.zeros((volts.shape[1], 1)))
    for lane, (h, s) in enumerate(where):
        volts[h, :, s] = found.volts[:, lane]
        settled[h, s] = found.settled[lane]


def _retry(equations: Equations, parameters: Floats, first: numpy_lanes.Settled, start: Floats) -> numpy_lanes.Settled:
    left = np.flatnonzero(~first.settled)
    ties = [number for key, number in equations.parameter.items() if key[0] == "tie"]
    here = np.broadcast_to(start, (len(start), len(left)))
    for exponent in range(1, 13):
        columns = parameters[:, left].copy()
        columns[ties] += 10.0**-exponent
        here = np.nan_to_num(numpy_lanes.settle(equations, columns, here).volts)
    last = numpy_lanes.settle(equations, parameters[:, left], here)
    volts, settled = first.volts.copy(), first.settled.copy()
    volts[:, left], settled[left] = last.volts, last.settled
    return numpy_lanes.Settled(volts, settled)
