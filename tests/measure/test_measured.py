"""Printing of values, against the SI Brochure's prefixes and the GUM's rounding."""

from __future__ import annotations

import math

import pytest

from kilter.measure.measured import Measured, engineering
from kilter.measure.rounding import round_to, uncertainty_digits
from kilter.measure.units import prefixes


def test_prefixes_of_the_si_brochure() -> None:
    """SI Brochure, 9th edition (2019), table 7, from memory."""
    table = {"p": -12, "n": -9, "u": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
    assert {key: round(math.log10(prefix.factor)) for key, prefix in prefixes().items()} == table
    assert all(prefix.factor == float(f"1e{table[key]}") for key, prefix in prefixes().items())


@pytest.mark.parametrize(
    ("value", "unit", "digits", "shown"),
    [
        (4700, "ohm", 3, "4.70 kΩ"),
        (0.47, "ohm", 2, "470 mΩ"),
        (999.6, "ohm", 3, "1.00 kΩ"),
        (1e-7, "F", 3, "100 nF"),
        (0.001, "F", 3, "1000 µF"),
        (3_579_545, "Hz", 7, "3.579545 MHz"),
        (-12.1, "V", 3, "-12.1 V"),
        (0.0, "V", 3, "0 V"),
        (0.2, "", 3, "0.200"),
        (math.inf, "ohm", 3, "OL Ω"),
        (math.nan, "V", 3, "unknown"),
        (12, "V AC", 3, "12.0 V AC"),
    ],
)
def test_engineering_notation(value: float, unit: str, digits: int, shown: str) -> None:
    """Closed form; that capacitors are shown in µF, never mF, is common practice, no source."""
    assert engineering(value, unit, digits) == shown


@pytest.mark.parametrize(
    ("measured", "shown"),
    [
        # GUM 7.2.6 (from memory): 10.057 62 ohm with 27 milliohm is stated as 10.058 ohm. One digit here gives 10.06.
        (Measured(10.05762, "ohm", 0.027), "10.06 ± 0.03 Ω"),
        (Measured(5.0312, "V", 0.0234), "5.03 ± 0.02 V"),
        (Measured(5.0312, "V", 0.0134), "5.031 ± 0.013 V"),
        (Measured(5.0312, "V", 0.00996), "5.031 ± 0.010 V"),
        (Measured(4700, "ohm", 47), "4.70 ± 0.05 kΩ"),
        (Measured(0.0, "V", 0.02), "0 ± 20 mV"),
        (Measured(5.0, "V", 0.0), "5.000 V"),
    ],
)
def test_as_many_digits_as_the_uncertainty_deserves(measured: Measured, shown: str) -> None:
    assert str(measured) == shown


def test_rounding_does_not_show_minus_zero() -> None:
    assert round_to(-0.0004, 2) == "0.00"
    assert uncertainty_digits(0.0996) == 2
