"""
A meter on a dead board: what an ohms range or a diode test reads between two nets.

The meter is a voltage behind a resistance, laid between the nets; it may turn junctions on, which is why its open
voltage and its current are inputs and not assumed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import Board, State
from kilter.measure.instruments import TestSource
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.faults import Move
from kilter.simulate.circuit.sweep import Sweep, sweep
from kilter.simulate.prediction import Hypothesis

Floats = NDArray[np.float64]


def meter_readings(
    board: Board,
    equations: Equations,
    state: State,
    hypotheses: Sequence[Hypothesis],
    parameters: Floats,
    pair: tuple[str, str],
    source: TestSource,
    *,
    diode: bool,
) -> tuple[Floats, Sweep]:
    """
    What the meter shows on every lane.

    Args:
        board: Unpowered.
        equations: With `pair` among their meter pairs.
        state: What is unplugged and lifted.
        hypotheses: Sets of faults, length H.
        parameters: Healthy samples, shape (n_parameters, S).
        pair: Net of the red and of the black lead.
        source: The meter's test source.
        diode: Show volts, as a diode test does, not ohms.

    Returns:
        Ohms, or volts for a diode test, infinite over limit and NaN where a lane did not settle, shape (H, S); and the
        sweep behind it.
    """
    red, black = pair
    found = sweep(board, equations, state, hypotheses, parameters, extra=_leads(equations, pair, source))
    volts = found.volts[:, equations.node_place[red]] - found.volts[:, equations.node_place[black]]
    shown = volts if source.red_positive else -volts
    if diode:
        return np.where(shown > source.shows, np.inf, shown), found
    flowing = (source.open_volts - shown) / source.series_ohm
    with np.errstate(divide="ignore", invalid="ignore"):
        ohms = np.where(flowing > 0.0, shown / flowing, np.inf)
    return np.where(np.isnan(volts), np.nan, np.maximum(ohms, 0.0)), found


def _leads(equations: Equations, pair: tuple[str, str], source: TestSource) -> list[Move]:
    red, black = pair
    sign = 1.0 if source.red_positive else -1.0
    conductance = 1.0 / source.series_ohm
    return [
        (equations.parameter["meter", red, black], "set", conductance),
        (equations.parameter["meter current", red, black], "set", sign * source.open_volts * conductance),
    ]
