"""A sweep: every hypothesis on every tolerance sample, each lane checked, the unsettled ones sent elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
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
from kilter.simulate.circuit.islands import Islands, Layout, tied
from kilter.simulate.prediction import Fault, Hypothesis

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


KERNEL = "kilter.simulate.circuit.numba_kernel"
RETRY_STEPS = 30
"""Newton steps at each size of the shunts that are removed step by step."""


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


Solver = Callable[[Equations, Floats, Floats, int], tuple[Floats, Flags]]
"""Newton's method on columns of parameters, from a start, in so many steps: volts (n + 1, L) and settled (L,)."""


def numpy_solver(equations: Equations, parameters: Floats, start: Floats, steps: int) -> tuple[Floats, Flags]:
    """The solver that needs nothing but numpy."""
    found = numpy_lanes.settle(equations, parameters, start, steps=steps)
    return found.volts, found.settled


def healthy_volts(
    equations: Equations, parameters: Floats, solver: Solver = numpy_solver, near: Floats | None = None
) -> Floats:
    """
    The lanes of `parameters` solved from nothing, with shunts removed step by step where plain Newton fails.

    Args:
        near: A point not far from all lanes, to start from instead, shape (n + 1, 1).
    """
    nothing = np.zeros((equations.lu.size + 1, 1))
    start = np.repeat(nothing if near is None else near, parameters.shape[1], axis=1)
    volts, settled = solver(equations, parameters, start, int(engine_number("newton_steps")))
    if not settled.all():
        volts[:, ~settled] = _retry(equations, parameters[:, ~settled], solver)[0]
    return volts


class Standing:
    """
    A board in one state, from whose healthy point every hypothesis starts.

    Args:
        board: With elements.
        equations: Of that board, powered as the state is.
        state: Its supplies, switches, lifted pins and unplugged parts.
        parameters: Healthy samples, shape (n_parameters, S).
        extra: Further moves in every lane, such as the resistance of a meter.
        near: A point not far from the healthy lanes, where one is known, shape (n + 1, 1).
    """

    def __init__(
        self,
        board: Board,
        equations: Equations,
        state: State,
        parameters: Floats,
        extra: Sequence[Move] = (),
        near: Floats | None = None,
    ) -> None:
        self.board, self.equations, self.state, self.parameters = board, equations, state, parameters
        self._always = [*state_moves(board, equations, state), *extra]
        self._islands = Islands(equations)
        self._moves: dict[Fault, list[Move]] = {}
        self._reactive = {number for key, number in equations.parameter.items() if key[0] in "cl"}
        self._floating = _layout(self._islands, self._always)
        self._start: Floats | None = None
        self._near = near

    @cached_property
    def base(self) -> Floats:
        """The parameters of the healthy lanes."""
        return moved(self.parameters, [*self._always, *self.ties(self._floating)])

    def start(self, solver: Solver = numpy_solver) -> Floats:
        """Volts of the healthy lanes; solved once."""
        if self._start is None:
            self._start = healthy_volts(self.equations, self.base, solver, self._near)
        return self._start

    @cached_property
    def first_sample(self) -> Standing:
        """The same board with its first sample alone, starting from the point already found."""
        one = Standing(self.board, self.equations, self.state, self.parameters[:, :1])
        one._always, one._floating, one._moves = self._always, self._floating, self._moves
        one._start = self.start()[:, :1]
        return one

    def sweep(self, hypotheses: Sequence[Hypothesis], *, compiled: bool | None = None) -> Sweep:
        """
        Solve all hypotheses on all samples; those that do the same to the circuit are solved once.

        Args:
            hypotheses: Sets of faults.
            compiled: Use the compiled kernel; None decides by the amount of work and by what is installed.
        """
        found = [self.lane(hypothesis) for hypothesis in hypotheses]
        unlike: dict[tuple[Move, ...], int] = {}
        row_of = [unlike.setdefault(tuple(moves), len(unlike)) for moves, _ in found]
        layout_of = dict(zip(row_of, (layout for _, layout in found), strict=True))
        lanes = [[*moves, *self.ties(layout_of[row])] for row, moves in enumerate(unlike)]
        equations, parameters = self.equations, self.parameters
        solver = numpy_solver
        if use_compiled(equations, len(lanes) * parameters.shape[1], compiled):
            from kilter.simulate.circuit import numba_lanes

            solver = numba_lanes.settle
            volts, settled = numba_lanes.settle_all(equations, parameters, self.base, lanes, self.start(solver))
        else:
            volts, settled = settle_all(equations, parameters, lanes, self.start())
        retried = int((~settled).sum())
        if retried:
            retry_all(equations, parameters, lanes, volts, settled, solver)
        volts.transpose(0, 2, 1)[~settled] = np.nan
        if len(lanes) < len(found):
            volts, settled = volts[row_of], settled[row_of]
        return Sweep(volts, settled, tuple(frozenset(layout) for _, layout in found), retried)

    def lane(self, hypothesis: Hypothesis) -> tuple[list[Move], Layout]:
        """All moves of a hypothesis but the ties, and the islands that they leave."""
        moves = list(self._always)
        faults = sorted(present_faults(self.state, hypothesis))
        for fault in faults:
            if fault not in self._moves:
                felt = fault_moves(self.board, self.equations, self.state, fault)
                self._moves[fault] = [move for move in felt if move[0] not in self._reactive]
            moves += self._moves[fault]
        opens = any(amount == 0.0 for fault in faults for _, _, amount in self._moves[fault])
        return moves, _layout(self._islands, moves) if opens or self._floating else {}

    def ties(self, layout: Layout, pair: tuple[str, str] | None = None) -> list[Move]:
        """The moves that tie every island to ground, a meter's two nets counting as joined."""
        tie = engine_number("tie_s")
        return [(self.equations.parameter["tie", net], "set", tie) for net in tied(layout, pair)]


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
    least = engine_number("compiled_warm_steps" if KERNEL in sys.modules else "compiled_from_steps")
    return lanes * equations.lu.steps > least and find_spec("numba") is not None


def moved(parameters: Floats, moves: Sequence[Move]) -> Floats:
    """The parameters after some moves, a new table."""
    table = parameters.copy()
    for number, verb, amount in moves:
        if verb == "set":
            table[number] = amount
        elif verb == "add":
            table[number] += amount
        elif verb == "times":
            table[number] *= parameters[int(amount)]
        else:
            table[number] *= amount
    return table


def _layout(islands: Islands, moves: Sequence[Move]) -> Layout:
    opened = {number for number, verb, amount in moves if verb in ("set", "scale") and amount == 0.0}
    joined = {number for number, verb, amount in moves if verb in ("set", "add") and amount != 0.0}
    return islands.layout(opened=opened - joined, joined=joined)


def settle_all(
    equations: Equations, parameters: Floats, lanes: Sequence[Sequence[Move]], start: Floats
) -> tuple[Floats, Flags]:
    """
    All lanes in numpy, as many at a time as keep the work inside the caches.

    Each group takes a few Newton steps; the few lanes that need many more then go on together, so that a straggler
    does not make its whole group wait.

    Args:
        equations: Of one topology.
        parameters: Healthy samples, shape (n_parameters, S).
        lanes: The moves of each of H lanes.
        start: Volts to start from, the same for all lanes, shape (n + 1, S), or their own, shape (H, n + 1, S).

    Returns:
        Volts, shape (H, n + 1, S), and settled, shape (H, S).
    """
    samples, size = parameters.shape[1], equations.lu.size + 1
    volts = np.empty((size, len(lanes) * samples))
    settled = np.zeros(len(lanes) * samples, dtype=bool)
    together = max(1, int(engine_number("numpy_lanes")) // samples)
    late: list[tuple[NDArray[np.intp], Floats, list[Floats]]] = []
    for first in range(0, len(lanes), together):
        last = first + together
        columns = np.concatenate([moved(parameters, moves) for moves in lanes[first:last]], axis=1)
        begun = (
            np.tile(start, (1, len(lanes[first:last])))
            if start.ndim == 2
            else np.concatenate(start[first:last], axis=1)
        )
        found = numpy_lanes.settle(equations, columns, begun, steps=int(engine_number("first_steps")))
        here = np.arange(first * samples, first * samples + columns.shape[1])
        volts[:, here], settled[here] = found.volts, found.settled
        if len(found.going):
            late.append((here[found.going], columns[:, found.going], found.junctions))
    if late:
        where = np.concatenate([lane for lane, _, _ in late])
        columns = np.concatenate([column for _, column, _ in late], axis=1)
        junctions = [np.concatenate(kind, axis=1) for kind in zip(*(junction for _, _, junction in late), strict=True)]
        found = numpy_lanes.settle(equations, columns, volts[:, where], junctions=junctions)
        volts[:, where], settled[where] = found.volts, found.settled
    return volts.reshape(size, len(lanes), samples).transpose(1, 0, 2), settled.reshape(len(lanes), samples)


def retry_all(
    equations: Equations,
    parameters: Floats,
    lanes: Sequence[Sequence[Move]],
    volts: Floats,
    settled: Flags,
    solver: Solver = numpy_solver,
) -> None:
    """Solve the unsettled lanes again, in place, with shunts on every net that are removed step by step."""
    where = np.argwhere(~settled)
    columns = np.stack([moved(parameters[:, s : s + 1], lanes[h])[:, 0] for h, s in where], axis=1)
    answer, passed = _retry(equations, columns, solver)
    volts[where[:, 0], :, where[:, 1]] = answer.T
    settled[where[:, 0], where[:, 1]] = passed


def _retry(equations: Equations, parameters: Floats, solver: Solver) -> tuple[Floats, Flags]:
    """
    Volts and settled of lanes solved from nothing, with shunts that are removed in few steps, else in many.

    The last try is numpy's, which evaluates every junction in every step and settles a few lanes that the compiled
    kernel does not.
    """
    volts, settled = _shunted(equations, parameters, solver, stride=3)
    for last in (solver, numpy_solver):
        if not settled.all():
            volts[:, ~settled], settled[~settled] = _shunted(equations, parameters[:, ~settled], last, stride=1)
    return volts, settled


def _shunted(equations: Equations, parameters: Floats, solver: Solver, *, stride: int) -> tuple[Floats, Flags]:
    """The same with a shunt on every net, each time smaller by `stride` decades."""
    ties = [number for key, number in equations.parameter.items() if key[0] == "tie"]
    here = np.zeros((equations.lu.size + 1, parameters.shape[1]))
    for exponent in range(1, 13, stride):
        columns = parameters.copy()
        columns[ties] += 10.0**-exponent
        here = np.nan_to_num(solver(equations, columns, here, RETRY_STEPS)[0])
    return solver(equations, parameters, here, int(engine_number("newton_steps")))
