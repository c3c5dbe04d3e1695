"""
Uncertainty: first-order propagation after the GUM (JCGM 100:2008).

Clause numbers in this file are those of the GUM. First order means: good where the function is nearly straight over
one standard uncertainty of each input.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput
from kilter.measure.student import coverage_factor

Floats = NDArray[np.float64]

Correlations = Mapping[tuple[int, int], float]
"""Correlation coefficient by the places of two inputs; pairs left out are uncorrelated."""

STEP = 0.1
"""Step of the numeric derivative in standard uncertainties: well inside the range over which a line is assumed."""

LEAST_STEP = 1e-6
"""Least step relative to the input, against rounding."""


@dataclass(frozen=True, slots=True)
class Combined:
    """
    Result of a propagation.

    Args:
        value: Of the function at the inputs.
        uncertainty: Combined standard uncertainty, k = 1.
        sensitivities: Partial derivative for each input (5.1.3).
        contributions: |sensitivity| times uncertainty of each input, same unit as the value.
    """

    value: float
    uncertainty: float
    sensitivities: tuple[float, ...]
    contributions: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Repeats:
    """
    Type A evaluation of repeated readings (4.2).

    Args:
        mean: Arithmetic mean.
        uncertainty: Experimental standard deviation of the mean.
        spread: Experimental standard deviation of one reading.
        dof: Degrees of freedom, one less than the readings.
    """

    mean: float
    uncertainty: float
    spread: float
    dof: int


def combine(
    function: Callable[..., float],
    values: Sequence[float],
    uncertainties: Sequence[float],
    correlations: Correlations | None = None,
    *,
    sensitivities: Sequence[float] | None = None,
) -> Combined:
    """
    Combined standard uncertainty of one function of several inputs (5.1.2, 5.2.2).

    Args:
        function: Of as many numbers as there are values.
        values: Estimates of the inputs.
        uncertainties: Their standard uncertainties.
        correlations: Between the inputs, by place.
        sensitivities: Partial derivatives where they are known; numeric ones otherwise.

    Raises:
        BadInput: Numbers of inputs differ, a correlation is not one, or the function has no value near the inputs.

    >>> power = combine(lambda volts, ohms: volts**2 / ohms, (12.0, 100.0), (0.1, 1.0))
    >>> round(power.value, 3), round(power.uncertainty, 4)
    (1.44, 0.028)
    """
    covariance = covariance_matrix(uncertainties, correlations)
    _check_count(values, uncertainties)
    slopes = (
        _slopes(lambda *inputs: np.atleast_1d(function(*inputs)), values, uncertainties)[0]
        if sensitivities is None
        else np.asarray(sensitivities, dtype=np.float64)
    )
    _check_count(values, slopes)
    variance = float(slopes @ covariance @ slopes)
    return Combined(
        value=float(function(*values)),
        uncertainty=math.sqrt(max(variance, 0.0)),
        sensitivities=tuple(map(float, slopes)),
        contributions=tuple(map(float, np.abs(slopes) * np.asarray(uncertainties, dtype=np.float64))),
    )


def propagate(
    function: Callable[..., ArrayLike], values: Sequence[float], covariance: ArrayLike
) -> tuple[Floats, Floats]:
    """
    Several results of the same inputs, with their covariances (H.2.3).

    Args:
        function: Of n numbers, giving m results.
        values: Estimates of the inputs, length n.
        covariance: Of the inputs, shape (n, n).

    Returns:
        Results, shape (m,), and their covariance, shape (m, m).
    """
    matrix = np.asarray(covariance, dtype=np.float64)
    _check_count(values, matrix)
    slopes = _slopes(function, values, np.sqrt(np.diag(matrix)))
    return np.atleast_1d(np.asarray(function(*values), dtype=np.float64)), slopes @ matrix @ slopes.T


def covariance_matrix(uncertainties: Sequence[float], correlations: Correlations | None = None) -> Floats:
    """
    Covariances from standard uncertainties and correlation coefficients, shape (n, n).

    Raises:
        BadInput: A coefficient outside -1 to 1, a place that does not exist, or coefficients in contradiction.
    """
    count = len(uncertainties)
    matrix = np.eye(count)
    for (row, column), coefficient in (correlations or {}).items():
        if not (0 <= row < count and 0 <= column < count and row != column and -1 <= coefficient <= 1):
            raise _bad_correlation(f"a correlation of {coefficient} between inputs {row} and {column} of {count}")
        matrix[row, column] = matrix[column, row] = coefficient
    if correlations and float(np.linalg.eigvalsh(matrix)[0]) < -1e-9:
        raise _bad_correlation("correlations that cannot all hold at once")
    spread = np.asarray(uncertainties, dtype=np.float64)
    return np.outer(spread, spread) * matrix


def from_limits(half_width: float, shape: str = "rectangular") -> float:
    """
    Standard uncertainty of what lies within ± half_width: rectangular (4.3.7), triangular (4.3.9) or arcsine.

    Arcsine is the place of something that swings to and fro, as a hum or a thermostat does.

    >>> round(from_limits(0.40e-6), 8)
    2.3e-07
    """
    divisors = {"rectangular": 3.0, "triangular": 6.0, "arcsine": 2.0}
    if shape in divisors:
        return abs(half_width) / math.sqrt(divisors[shape])
    raise BadInput(
        "Cannot turn limits into an uncertainty",
        f"the shape '{shape}'",
        ", ".join(divisors),
        "Use rectangular where nothing more is known.",
    )


def from_repeats(readings: Sequence[float]) -> Repeats:
    """
    Mean and its uncertainty from repeated independent readings (4.2.1 to 4.2.3).

    Raises:
        BadInput: Fewer than two readings: one alone says nothing about spread.

    >>> from_repeats([5.007, 4.994, 5.005, 4.990, 4.999]).mean
    4.999
    """
    if len(readings) < 2:
        raise BadInput(
            "Cannot find the spread of repeated readings",
            f"{len(readings)} reading(s)",
            "two readings or more",
            "Repeat the reading, or use the instrument's own uncertainty.",
        )
    spread = float(np.std(readings, ddof=1))
    mean = math.fsum(readings) / len(readings)
    return Repeats(mean, spread / math.sqrt(len(readings)), spread, len(readings) - 1)


def effective_dof(contributions: Sequence[float], dofs: Sequence[float]) -> float:
    """
    Effective degrees of freedom of independent contributions (Welch-Satterthwaite, G.4.1).

    Args:
        contributions: Each input's share of the combined uncertainty, as in Combined.contributions.
        dofs: Degrees of freedom of each; infinite where the limits are taken as known.

    >>> round(effective_dof([0.25, 0.57, 0.82], [9, 4, 14]), 1)
    19.0
    """
    _check_count(contributions, dofs)
    whole = math.fsum(part**2 for part in contributions) ** 2
    weighed = math.fsum(part**4 / dof for part, dof in zip(contributions, dofs, strict=True))
    return whole / weighed if weighed > 0 else math.inf


def expanded(uncertainty: float, dof: float = math.inf, confidence: float = 0.95) -> float:
    """
    Expanded uncertainty: half-width of the interval with that level of confidence (6.2, G.3).

    Degrees of freedom that are not whole are cut down to the next whole number, as G.4.1 advises; below one, kept.
    """
    whole = math.floor(dof) if 1 <= dof < math.inf else dof
    return coverage_factor(whole, confidence) * uncertainty


def _slopes(function: Callable[..., ArrayLike], values: Sequence[float], spreads: ArrayLike) -> Floats:
    """Partial derivatives by central differences at two steps, the leading error removed; shape (m, n)."""
    point = np.asarray(values, dtype=np.float64)
    steps = np.maximum(STEP * np.asarray(spreads, dtype=np.float64), LEAST_STEP * np.abs(point))
    steps[steps == 0] = LEAST_STEP
    columns = []
    for place, step in enumerate(steps):
        wide, narrow = (_difference(function, point, place, size) for size in (step, step / 2))
        columns.append((4 * narrow - wide) / 3)
    slopes = np.stack(columns, axis=-1)
    if np.isfinite(slopes).all():
        return slopes
    raise BadInput(
        "Cannot propagate an uncertainty",
        f"a function without a finite value near {tuple(map(float, point))}",
        "inputs about which the function is defined",
        "Check the inputs, or give the sensitivities.",
    )


def _difference(function: Callable[..., ArrayLike], point: Floats, place: int, step: float) -> Floats:
    above, below = point.copy(), point.copy()
    above[place] += step
    below[place] -= step
    with np.errstate(all="ignore"):
        rise = np.atleast_1d(np.asarray(function(*above), dtype=np.float64)) - np.asarray(function(*below))
    slope: Floats = rise / (above[place] - below[place])
    return slope


def _check_count(one: Sequence[float] | Floats, other: Sequence[float] | Floats) -> None:
    if len(one) != len(other):
        raise BadInput(
            "Cannot combine uncertainties",
            f"{len(one)} and {len(other)} numbers for the same inputs",
            "one of each for every input",
            "Give every input its value and its uncertainty.",
        )


def _bad_correlation(found: str) -> BadInput:
    return BadInput(
        "Cannot combine uncertainties",
        found,
        "coefficients from -1 to 1, each between two different inputs",
        "Check the coefficients; leave out those that are not known.",
    )
