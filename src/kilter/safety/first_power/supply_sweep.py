"""The board at every position of its supply: healthy boards, and the nominal board with each short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.circuit.board import Board, State
from kilter.safety.first_power.numbers import number
from kilter.simulate.circuit.equations import Equations, write_equations
from kilter.simulate.circuit.faults import Move
from kilter.simulate.circuit.sweep import Standing, retry_all, settle_all
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.prediction import Fault, Floats, Hypothesis

HEALTHY: Hypothesis = frozenset()


@dataclass(frozen=True)
class SupplySweep:
    """
    What the sweep found; places are positions of the supply.

    Args:
        equations: Of the powered board.
        shares: Of the full setting, shape (places,).
        full: The full setting of each source. [V]
        faults: The shorts, in the order of the rows below.
        healthy_current: Largest of the sources, shape (places, samples). [A]
        healthy_rails: Rail to shape (places, samples). [V]
        nominal: Unknowns of the healthy nominal board, shape (n + 1, places).
        faulty: The same with each short, shape (faults, n + 1, places); NaN where it did not settle.
        faulty_current: Shape (faults, places). [A]
        faulty_rails: Rail to shape (faults, places). [V]
    """

    equations: Equations
    shares: Floats
    full: Mapping[str, float]
    faults: tuple[Fault, ...]
    healthy_current: Floats
    healthy_rails: Mapping[str, Floats]
    nominal: Floats
    faulty: Floats
    faulty_current: Floats
    faulty_rails: Mapping[str, Floats]


def sweep_supply(board: Board, state: State, sources: Sequence[str], faults: Sequence[Fault]) -> SupplySweep:
    """
    Solves all of them.

    Args:
        board: With elements.
        state: Powered; its supplies at their full setting.
        sources: The sources that are turned up together.
        faults: One short each.
    """
    equations = write_equations(board, powered=True)
    full = {name: state.supplies.get(name, board.elements[name].value) for name in sources}
    places = int(number("ramp", "grid"))
    shares = np.arange(1, places + 1) / places
    turned = [
        [(equations.parameter["v", name], "set", float(share) * volts) for name, volts in full.items()]
        for share in shares
    ]
    samples = sample_parameters(board, equations, int(number("ramp", "samples")))
    healthy = _solve(board, equations, state, samples, [HEALTHY], turned)[0]
    shorted = [frozenset({one}) for one in faults]
    faulty = _solve(board, equations, state, samples[:, :1], shorted, turned, np.nan_to_num(healthy[..., :1]))[..., 0]
    faulty = faulty.transpose(0, 2, 1)
    branches = [equations.branch_place[name] for name in sources]
    rails = {rail.name: equations.node_place[rail.net] for rail in board.rails.values()
             if rail.net in equations.node_place}  # fmt: skip
    return SupplySweep(
        equations, shares, full, tuple(faults),
        np.abs(healthy[:, branches]).max(axis=1), {name: healthy[:, place] for name, place in rails.items()},
        healthy[:, :, 0].T, faulty,
        np.abs(faulty[:, branches]).max(axis=1), {name: faulty[:, place] for name, place in rails.items()},
    )  # fmt: skip


def _solve(
    board: Board,
    equations: Equations,
    state: State,
    parameters: Floats,
    hypotheses: Sequence[Hypothesis],
    turned: Sequence[Sequence[Move]],
    near: Floats | None = None,
) -> Floats:
    """
    Unknowns, NaN where not settled, shape (hypotheses, places, n + 1, samples).

    Args:
        near: Where to start at each place, shape (places, n + 1, samples); the full setting's unless given.
    """
    standing = Standing(board, equations, state, parameters)
    found = [standing.lane(one) for one in hypotheses]
    lanes = [[*moves, *standing.ties(layout), *turn] for moves, layout in found for turn in turned]
    start = standing.start() if near is None else np.tile(near, (len(hypotheses), 1, 1))
    volts, settled = settle_all(equations, parameters, lanes, start)
    if not settled.all():
        retry_all(equations, parameters, lanes, volts, settled)
    volts.transpose(0, 2, 1)[~settled] = np.nan
    return volts.reshape(len(hypotheses), len(turned), *volts.shape[1:])
