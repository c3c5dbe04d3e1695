"""A sweep: every hypothesis on every tolerance sample, each lane checked, the unsettled ones sent elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from importlib.util import find_spec

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import Board, State
from kilter.simulate.circuit import numpy_lanes
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.faults import Move, fault_moves, present_faults, state_moves
from kilter.simulate.circuit.islands import Islands
from kilter.simulate.prediction import Fault, Hypothesis

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


class Standing:
    """
    A board in one state, perhaps with a meter laid on it, from whose healthy point every hypothesis starts.

    Args:
        board: With elements.
        equations: Of that board, powered as the state is.
        state: Its supplies, switches, lifted pins and unplugged parts.
        parameters: Healthy samples, shape (n_parameters, S).
        extra: Further moves in every lane, such as a meter's leads.
    """

    def __init__(
        self, board: Board, equations: Equations, state: State, parameters: Floats, extra: Sequence[Move] = ()
    ) -> None:
        self.board, self.equations, self.state, self.parameters = board, equations, state, parameters
        self._always = [*state_moves(board, equations, state), *extra]
        self._islands = Islands(equations)
        self._moves: dict[Fault, list[Move]] = {}
        self._floating = _cut_off(self._islands, self._always)
        self._base = moved(parameters, [*self._always, *self._ties(self._floating)])

    @cached_property
    def _start(self) -> Floats:
        """Volts of the healthy lanes."""
        return healthy_volts(self.equations, self._base).volts

    def sweep(self, hypotheses: Sequence[Hypothesis], *, compiled: bool | None = None) -> Sweep:
        """
        Solve all hypotheses on all samples.

        Args:
            hypotheses: Sets of faults.
            compiled: Use the compiled kernel; None decides by the amount of work and by what is installed.
        """
        lanes, cut = [], []
        for hypothesis in hypotheses:
            moves, floating = self._lane(hypothesis)
            lanes.append(moves)
            cut.append(frozenset(net for nets in floating for net in nets))
        equations, parameters = self.equations, self.parameters
        if use_compiled(equations, len(hypotheses) * parameters.shape[1], compiled):
            from kilter.simulate.circuit import numba_lanes

            volts, settled = numba_lanes.settle_all(equations, parameters, self._base, lanes, self._start)
        else:
            volts, settled = _settle_all(equations, parameters, lanes, self._start)
        retried = int((~settled).sum())
        if retried:
            _retry_all(equations, parameters, lanes, volts, settled)
        volts = np.where(settled[:, None, :], volts, np.nan)
        return Sweep(volts, settled, tuple(cut), retried)

    def _lane(self, hypothesis: Hypothesis) -> tuple[list[Move], list[list[str]]]:
        """All moves of a hypothesis, and the islands that they leave."""
        moves = list(self._always)
        faults = sorted(present_faults(self.state, hypothesis))
        for fault in faults:
            if fault not in self._moves:
                self._moves[fault] = fault_moves(self.board, self.equations, fault)
            moves += self._moves[fault]
        opens = any(amount == 0.0 for fault in faults for _, _, amount in self._moves[fault])
        floating = _cut_off(self._islands, moves) if opens or self._floating else []
        return moves + self._ties(floating), floating

    def _ties(self, floating: Sequence[Sequence[str]]) -> list[Move]:
        tie = engine_number("tie_s")
        return [(self.equations.parameter["tie", nets[0]], "set", tie) for nets in floating]


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
    """One sweep of a board in one state; the arguments are those of `Standing` and its `sweep`."""
    return Standing(board, equations, state, parameters, extra).sweep(hypotheses, compiled=compiled)


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
    """
    All hypotheses in numpy, as many at a time as keep the work inside the caches.

    Each group takes a few Newton steps; the few lanes that need many more are then finished together, so that a
    straggler does not make its whole group wait.
    """
    samples, size = parameters.shape[1], equations.lu.size + 1
    volts = np.empty((len(lanes), size, samples))
    settled = np.empty((len(lanes), samples), dtype=bool)
    together = max(1, int(engine_number("numpy_lanes")) // samples)
    for first in range(0, len(lanes), together):
        group = lanes[first : first + together]
        columns = np.concatenate([moved(parameters, moves) for moves in group], axis=1)
        begun = np.tile(start, (1, len(group)))
        found = numpy_lanes.settle(equations, columns, begun, steps=int(engine_number("first_steps")))
        volts[first : first + len(group)] = found.volts.reshape(size, len(group), samples).transpose(1, 0, 2)
        settled[first : first + len(group)] = found.settled.reshape(len(group), samples)
    where = np.argwhere(~settled)
    if len(where):
        columns = np.stack([moved(parameters[:, s : s + 1], lanes[h])[:, 0] for h, s in where], axis=1)
        begun = np.nan_to_num(volts[where[:, 0], :, where[:, 1]].T)
        found = numpy_lanes.settle(equations, columns, begun, steps=int(engine_number("newton_steps")))
        volts[where[:, 0], :, where[:, 1]] = found.volts.T
        settled[where[:, 0], where[:, 1]] = found.settled
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
