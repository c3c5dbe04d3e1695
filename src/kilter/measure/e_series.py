"""Preferred numbers: the values in which resistors and capacitors are made."""

from __future__ import annotations

from functools import cache
from math import floor, isfinite, log10

from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table

CLOSE = 1e-9
"""Rounding of floats, far below the step of any series."""


def nearest(value: float, series: str = "E24") -> float:
    """
    The value of the series nearest by ratio.

    Args:
        value: Above 0, in any unit.
        series: 'E3', 'E6', 'E12', 'E24', 'E48', 'E96' or 'E192'.

    >>> nearest(140.0), nearest(0.97e-6, "E6"), nearest(9.9e3)
    (150.0, 1e-06, 10000.0)
    """
    return min(_around(value, series), key=lambda one: abs(log10(one / value)))


def at_least(value: float, series: str = "E24") -> float:
    """
    The smallest value of the series that is not below.

    >>> at_least(4700.0), at_least(4701.0), at_least(6.7e-3, "E6")
    (4700.0, 5100.0, 0.0068)
    """
    return next(one for one in _around(value, series) if one >= value * (1 - 1e-12))


def at_most(value: float, series: str = "E24") -> float:
    """The largest value of the series that is not above."""
    return next(one for one in reversed(_around(value, series)) if one <= value * (1 + 1e-12))


def neighbours(value: float, reach: int, series: str = "E24") -> list[float]:
    """
    The nearest value with so many on either side.

    >>> neighbours(100.0, 1)
    [91.0, 100.0, 110.0]
    """
    around = _around(value, series)
    place = around.index(nearest(value, series))
    return around[place - reach : place + reach + 1]


def _around(value: float, series: str) -> list[float]:
    """Ascending values of the series from two decades below to two decades above."""
    if not (isfinite(value) and value > 0):
        raise OutOfRange("Cannot choose a preferred value", f"{value:g}", "a number above 0", "Look at the others.")
    decade = floor(log10(value))
    return [float(f"{one}e{decade + step}") for step in range(-2, 3) for one in _series(series)]


@cache
def _series(name: str) -> tuple[float, ...]:
    return tuple(table("e_series")[name])


def belongs(value: float, series: str = "E24") -> bool:
    """
    Whether a value is one of the series, in any decade.

    >>> belongs(4.7e-6, "E3"), belongs(48e3), belongs(920.0, "E192"), belongs(919.0, "E192")
    (True, False, True, False)
    """
    if not (isfinite(value) and value > 0):
        return False
    figures = value / 10.0 ** floor(log10(value) + CLOSE)
    return any(abs(figures / one - 1) < CLOSE for one in _series(series))
