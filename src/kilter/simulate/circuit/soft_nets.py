"""
Nets that even a light meter moves: those get a sweep of their own, and no meter while another net is read.

All other nets can carry their meters at once, since none of them is moved, and one sweep answers for all. A chain of
soft nets under as many meters would sag by the sum of their currents, which no bench ever shows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from kilter.circuit.board import Board, State
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.faults import Move
from kilter.simulate.circuit.sweep import Floats, Standing, moved, numpy_solver

Meter = tuple[str, float]
"""Net and the resistance of the meter on it. [ohm]"""


def soft_nets(
    board: Board,
    equations: Equations,
    state: State,
    parameters: Floats,
    meters: Iterable[Meter],
    lay: Callable[[Iterable[Meter]], list[Move]],
) -> tuple[frozenset[str], Floats]:
    """
    The nets that their own meter moves by more than a hand-held meter can see, on the healthy nominal board.

    The second answer is that board's volts without any meter, shape (n + 1, 1), a place to start from.

    Args:
        board: With elements.
        equations: Of that board, powered.
        state: A powered one.
        parameters: Healthy samples, the nominal one first, shape (n_parameters, S).
        meters: One for each net that may be read.
        lay: Turns meters into moves.
    """
    meters = [one for one in sorted(meters) if one[0] in equations.node_place]
    standing = Standing(board, equations, state, parameters[:, :1])
    free = standing.start()
    if not meters:
        return frozenset(), free
    columns = np.concatenate([moved(standing.base, lay([one])) for one in meters], axis=1)
    volts, settled = numpy_solver(equations, columns, free, int(engine_number("newton_steps")))
    places = [equations.node_place[net] for net, _ in meters]
    shift = np.abs(volts[places, np.arange(len(meters))] - free[places, 0])
    soft = (shift > engine_number("soft_net_v")) | ~settled
    return frozenset(net for (net, _), one in zip(meters, soft, strict=True) if one), free
