"""A measured value: number, unit and standard uncertainty, and how it is printed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kilter.measure.rounding import round_to, uncertainty_digits
from kilter.measure.units import Prefix, prefixes, unit

DIGITS = 4
"""Significant digits of a value printed without an uncertainty."""


PLAIN_FROM, PLAIN_TO = 1e-6, 1e9
"""Numbers outside are printed with an exponent."""


@dataclass(frozen=True, slots=True)
class Measured:
    """
    A value with its uncertainty.

    Args:
        value: In the unit; infinity is 'over limit'.
        unit: Key of the unit, without prefix: 'ohm', 'V', 'V AC', ...; '' for a share or plain number.
        uncertainty: Standard uncertainty (k = 1); 0 for not said.

    >>> print(Measured(5.0312, "V", 0.0234)), print(Measured(4700, "ohm")), print(Measured(float("inf"), "ohm"))
    5.03 ± 0.02 V
    4.700 kΩ
    OL Ω
    (None, None, None)
    """

    value: float
    unit: str
    uncertainty: float = 0.0

    def __str__(self) -> str:
        if not (math.isfinite(self.value) and 0 < self.uncertainty < math.inf):
            return engineering(self.value, self.unit, DIGITS)
        prefix = _prefix(max(abs(self.value), self.uncertainty), self.unit)
        spread = self.uncertainty / prefix.factor
        place = uncertainty_digits(spread)
        numbers = f"{round_to(self.value / prefix.factor, place)} ± {round_to(spread, place)}"
        return _with_unit(numbers, prefix, self.unit)


def engineering(value: float, unit: str, digits: int = 3) -> str:
    """
    A value with prefix and unit, to at least so many significant digits.

    Args:
        value: In the unit, without prefix.
        unit: Key of the unit.
        digits: Significant digits; digits left of the point are never dropped.

    >>> engineering(4700, "ohm"), engineering(999_960, "Hz"), engineering(2.2e-9, "F", 2)
    ('4.70 kΩ', '1.00 MHz', '2.2 nF')
    """
    if math.isnan(value):
        return "unknown"
    if math.isinf(value):
        return _with_unit("OL" if value > 0 else "-OL", prefixes()[""], unit)
    rounded = float(f"{value:.{max(digits, 1) - 1}e}")
    prefix = _prefix(abs(rounded), unit)
    scaled = rounded / prefix.factor
    if scaled and not PLAIN_FROM <= abs(scaled) < PLAIN_TO:
        return _with_unit(f"{scaled:.{max(digits, 1) - 1}e}", prefix, unit)
    whole = 1 if scaled == 0 else math.floor(math.log10(abs(scaled)) + 1e-12) + 1
    return _with_unit(round_to(scaled, max(0, digits - whole)) if scaled else "0", prefix, unit)


def _prefix(magnitude: float, unit_key: str) -> Prefix:
    """The largest of the unit's own prefixes that leaves a number of at least one, else the smallest."""
    own = [prefixes()[key] for key in unit(unit_key).prefixes]
    if magnitude == 0:
        return prefixes()[""]
    fitting = [prefix for prefix in own if magnitude >= prefix.factor * (1 - 1e-12)]
    return fitting[-1] if fitting else own[0]


def _with_unit(number: str, prefix: Prefix, unit_key: str) -> str:
    return f"{number} {prefix.shown}{unit(unit_key).shown}".rstrip()
