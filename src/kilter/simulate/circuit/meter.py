"""
A meter on a dead board: what an ohms range or a diode test reads between two nets.

The meter is a voltage behind a resistance, laid between the nets; it may turn junctions on, which is why its open
voltage and its current are inputs and not assumed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kilter.measure.instruments import TestSource
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.faults import Move

Floats = NDArray[np.float64]
NetPair = tuple[str, str]
"""Net of the red and of the black lead."""


def leads(equations: Equations, pair: NetPair, source: TestSource) -> list[Move]:
    """The moves that lay a meter between two nets, red lead first."""
    red, black = pair
    sign = 1.0 if source.red_positive else -1.0
    conductance = 1.0 / source.series_ohm
    return [
        (equations.parameter["meter", red, black], "set", conductance),
        (equations.parameter["meter current", red, black], "set", sign * source.open_volts * conductance),
    ]


def shown(volts: Floats, source: TestSource, *, diode: bool) -> Floats:
    """
    What the meter shows.

    Args:
        volts: From the red to the black lead. [V], any shape, NaN where not known
        source: The meter's test source.
        diode: Show volts, as a diode test does, not ohms.

    Returns:
        Ohms, or volts for a diode test; infinite over limit.

    >>> shown(np.array([0.25, 0.5]), TestSource(0.5, 0.5e-3), diode=False)
    array([1000.,   inf])
    """
    across = volts if source.red_positive else -volts
    if diode:
        return np.where(across > source.shows, np.inf, across)
    flowing = (source.open_volts - across) / source.series_ohm
    with np.errstate(divide="ignore", invalid="ignore"):
        ohms = np.where(flowing > 0.0, across / flowing, np.inf)
    return np.where(np.isnan(volts), np.nan, np.maximum(ohms, 0.0))
