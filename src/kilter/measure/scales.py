"""
Scales: the axis on which readings of one quantity are compared.

A linear scale is the value, clipped to the quantity's range. A log scale is ln(value + floor) of the clipped value, so
that 0 and 'over limit' are ordinary places on it. NaN (no value) stays NaN; infinity (over limit) lands at the end.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput
from kilter.measure.quantities import Quantity, quantity

Floats = NDArray[np.float64]


def to_scale(quantity_key: str, values: ArrayLike) -> Floats:
    """
    Values moved to the quantity's scale, any shape.

    >>> to_scale("resistance", [0.0, 4700.0, float("inf")]).round(3).tolist()
    [-1.609, 8.455, 17.91]
    """
    entry = _numeric(quantity_key)
    clipped = np.clip(np.asarray(values, dtype=np.float64), entry.low, entry.high)
    return np.log(clipped + entry.floor) if entry.scale == "log" else clipped


def from_scale(quantity_key: str, scaled: ArrayLike) -> Floats:
    """
    The values that stand at these places of the scale; what lies off its ends comes back as the end.

    >>> from_scale("resistance", to_scale("resistance", [0.0, 4700.0])).round(6).tolist()
    [0.0, 4700.0]
    """
    entry = _numeric(quantity_key)
    inside = np.clip(np.asarray(scaled, dtype=np.float64), *scaled_range(quantity_key))
    values = np.exp(inside) - entry.floor if entry.scale == "log" else inside
    return np.clip(values, entry.low, entry.high)


def scaled_range(quantity_key: str) -> tuple[float, float]:
    """
    Both ends of the quantity's scale.

    >>> scaled_range("diode")
    (0.0, 3.0)
    """
    entry = _numeric(quantity_key)
    low, high = to_scale(quantity_key, [entry.low, entry.high])
    return float(low), float(high)


def scaled_uncertainty(quantity_key: str, value: ArrayLike, uncertainty: ArrayLike) -> Floats:
    """
    Standard uncertainty on the scale, by the scale's derivative at the value.

    Never more than that of 'anywhere on the scale' (width / sqrt 12, GUM 4.3.7), which is also what an unknown (NaN)
    or infinite uncertainty becomes. A reading over the limit has the spread of where the limit may lie.

    >>> scaled_uncertainty("resistance", [4700.0, float("inf")], [47.0, 0.0]).round(4).tolist()
    [0.01, 0.32]
    """
    entry = _numeric(quantity_key)
    values, spread = np.broadcast_arrays(np.asarray(value, np.float64), np.abs(np.asarray(uncertainty, np.float64)))
    low, high = scaled_range(quantity_key)
    widest = (high - low) / np.sqrt(12.0)
    slope = 1.0 / (np.clip(values, entry.low, entry.high) + entry.floor) if entry.scale == "log" else 1.0
    with np.errstate(over="ignore", invalid="ignore"):
        scaled = np.fmin(spread * slope, widest)
    scaled = np.where(np.isnan(scaled), widest, scaled)
    return np.where(values > entry.high, np.maximum(np.where(np.isinf(spread), 0.0, scaled), entry.over_limit), scaled)


def _numeric(quantity_key: str) -> Quantity:
    entry = quantity(quantity_key)
    if entry.numeric:
        return entry
    raise BadInput(
        "Cannot put a reading on a scale",
        f"the quantity '{quantity_key}', which is read as a word",
        "quantities read as numbers: voltage, resistance, frequency, ...",
        "Compare words as words.",
    )
