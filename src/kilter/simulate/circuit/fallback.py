"""The second engine: lanes that ours does not settle are put to ngspice, a netlist each."""

from __future__ import annotations

from collections.abc import Sequence
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import GROUND, Board, Element, State
from kilter.measure.errors import KilterError
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.faults import Move, apply_changes, circuit_changes
from kilter.simulate.circuit.sizes import sized
from kilter.simulate.circuit.sweep import Sweep
from kilter.simulate.circuit.tolerances import sampled_board
from kilter.simulate.ngspice.analyses import Point
from kilter.simulate.ngspice.checked import sound_point
from kilter.simulate.ngspice.names import element_name, node_name
from kilter.simulate.ngspice.worker import NgspiceWorker
from kilter.simulate.prediction import Hypothesis

Floats = NDArray[np.float64]


class Fallback:
    """
    Answers unsettled lanes with ngspice.

    The worker process starts with the first lane that needs it, so a machine without ngspice pays nothing and loses
    nothing until such a lane comes up; then the lane stays unsettled and is reported.

    Args:
        most: Lanes put to ngspice in one sweep at most; the rest stay unsettled.
    """

    def __init__(self, most: int = 400) -> None:
        self.most = most
        self._worker: NgspiceWorker | None = None
        self._absent = False

    def __enter__(self) -> Fallback:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._worker is not None:
            self._worker.__exit__(kind, error, trace)
            self._worker = None

    def complete(
        self,
        board: Board,
        equations: Equations,
        state: State,
        hypotheses: Sequence[Hypothesis],
        parameters: Floats,
        extra: Sequence[Move],
        found: Sweep,
    ) -> tuple[Sweep, int]:
        """The sweep with as many unsettled lanes filled in as ngspice could answer, and their count."""
        lanes = np.argwhere(~found.settled)[: self.most]
        worker = self._ready()
        if worker is None:
            return found, 0
        volts, settled, answered = found.volts.copy(), found.settled.copy(), 0
        meters = _meters(equations, extra)
        for row, sample in lanes:
            built = sampled_board(board, equations, parameters[:, sample])
            wanted = [
                (part, sized(equations, parameters[:, sample], part, change))
                for part, change in circuit_changes(built, state, hypotheses[row])
            ]
            elements = [*apply_changes(built, state, wanted), *meters]
            try:
                answer = sound_point(worker, elements)
            except KilterError:
                continue
            volts[row, :, sample] = _filled(board, equations, answer)
            settled[row, sample] = True
            answered += 1
        return Sweep(volts, settled, found.floating, found.retried), answered

    def _ready(self) -> NgspiceWorker | None:
        if self._worker is None and not self._absent:
            try:
                self._worker = NgspiceWorker().__enter__()
            except KilterError:
                self._absent = True
        return self._worker


def _meters(equations: Equations, extra: Sequence[Move]) -> list[Element]:
    """The meters' resistances among the moves, as elements."""
    nets = {number: key[1] for key, number in equations.parameter.items() if key[0] == "tie"}
    return [
        Element(f"R_meter{place}", "R", (nets[number], GROUND), 1.0 / amount)
        for place, (number, _, amount) in enumerate(extra)
        if number in nets and amount > 0.0
    ]


def _filled(board: Board, equations: Equations, answer: Point) -> Floats:
    """ngspice's answer in the engine's order; the inside of a linked pin stands at its net, which no reading uses."""
    volts = np.zeros(equations.lu.size + 1)
    for net, place in equations.node_place.items():
        volts[place] = 0.0 if net == GROUND else answer.get(node_name(net), np.nan)
    for name, place in equations.branch_place.items():
        if name in board.elements:
            volts[place] = answer.get(element_name(board.elements[name].kind, name) + "#branch", np.nan)
    return np.asarray(np.nan_to_num(volts))
