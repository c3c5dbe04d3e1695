"""
Bench notation: what is read, what is asked about, what is refused.

Letter codes: IEC 60062 as an encyclopaedia quotes it. Prefixes: SI Brochure, 9th edition, table 7 (from memory).
Uncertainty in brackets and behind ±: GUM (JCGM 100:2008), 7.2.2 (from memory).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilter.measure.errors import BadInput
from kilter.measure.measured import Measured, engineering
from kilter.measure.notation import possible_readings, read_quantity
from kilter.measure.units import units

READ = [
    # IEC 60062: the letter stands for the decimal point.
    ("R47", "", 0.47, "ohm"),
    ("0R47", "ohm", 0.47, "ohm"),
    ("4R7", "ohm", 4.7, "ohm"),
    ("470R", "", 470, "ohm"),
    ("47R", "", 47, "ohm"),
    ("4K7", "ohm", 4700, "ohm"),
    ("47K3", "ohm", 47_300, "ohm"),
    ("4M7", "ohm", 4.7e6, "ohm"),
    ("M10", "ohm", 100e3, "ohm"),
    ("p33", "F", 0.33e-12, "F"),
    ("2n2", "F", 2.2e-9, "F"),
    ("4u7", "F", 4.7e-6, "F"),
    ("4µ7", "F", 4.7e-6, "F"),
    ("4\u03bc7F", "", 4.7e-6, "F"),
    ("100n", "F", 100e-9, "F"),
    ("4k7", "", 4700, ""),
    ("5V1", "", 5.1, "V"),
    # SI prefixes with units, in full, in bench shorthand and in capital print.
    ("3.58 MHz", "", 3.58e6, "Hz"),
    ("32.768kHz", "Hz", 32_768, "Hz"),
    ("-12.1V", "", -12.1, "V"),
    ("− 12.1 V", "V", -12.1, "V"),
    ("4,7 k", "ohm", 4700, "ohm"),
    ("4.7 k ohm", "", 4700, "ohm"),
    ("1 Meg", "ohm", 1e6, "ohm"),
    ("2.2 megohms", "", 2.2e6, "ohm"),
    ("10 mΩ", "ohm", 0.01, "ohm"),
    ("100PF", "", 100e-12, "F"),
    ("20 mA", "A", 0.02, "A"),
    ("5 min", "s", 300, "s"),
    ("2 h", "", 7200, "s"),
    ("5 H", "", 5, "H"),
    ("25 °C", "degC", 25, "degC"),
    ("12 K", "K", 12, "K"),
    ("12 K", "ohm", 12_000, "ohm"),
    # Old print, from memory: mfd is micro, mmf and uuF are pico.
    ("8 MFD", "", 8e-6, "F"),
    ("0.05mfd", "F", 0.05e-6, "F"),
    ("50 MMF", "", 50e-12, "F"),
    ("250 mmfd", "F", 250e-12, "F"),
    ("30 µµF", "F", 30e-12, "F"),
    # Shares, kinds of voltage, plain and grouped numbers.
    ("20 %", "", 0.2, ""),
    ("20 %", "%", 0.2, ""),
    ("50 ppm", "%", 50e-6, ""),
    ("12 V DC", "V", 12, "V"),
    ("12 VAC", "V AC", 12, "V AC"),
    ("50 mV", "V pp", 0.05, "V pp"),
    ("1e-3", "F", 1e-3, "F"),
    ("1E3", "V", 1000, "V"),
    ("-5", "", -5, ""),
    (".5", "V", 0.5, "V"),
    ("10 000", "ohm", 10_000, "ohm"),
    ("1,234.5 V", "", 1234.5, "V"),
    ("1.234,5 V", "", 1234.5, "V"),
    ("1,234,567 Hz", "", 1_234_567, "Hz"),
    ("0,123 V", "", 0.123, "V"),
    ("12,34 V", "", 12.34, "V"),
    # Over the limit.
    ("OL", "ohm", math.inf, "ohm"),
    ("O.L", "V", math.inf, "V"),
    ("0L", "ohm", math.inf, "ohm"),
    (".OL MΩ", "ohm", math.inf, "ohm"),
    (">20M", "ohm", math.inf, "ohm"),
    ("> 40 MΩ", "", math.inf, "ohm"),
    ("-OL", "V", -math.inf, "V"),
]


@pytest.mark.parametrize(("text", "expected", "value", "unit"), READ)
def test_reads(text: str, expected: str, value: float, unit: str) -> None:
    assert read_quantity(text, expected) == Measured(value, unit)


# GUM 7.2.2 writes one mass of 100.021 47 g with an uncertainty of 0.35 mg in three ways; here in volts.
UNCERTAIN = [
    ("100.02147(35) V", 100.02147, 0.00035),
    ("100.02147(0.00035) V", 100.02147, 0.00035),
    ("(100.02147 ± 0.00035) V", 100.02147, 0.00035),
    ("5.03 V ± 0.02", 5.03, 0.02),
    ("5.03 ± 0.02 V", 5.03, 0.02),
    ("5.03 V +/- 20 mV", 5.03, 0.02),
    ("503 mV ± 2", 0.503, 0.002),
    ("503(2) mV", 0.503, 0.002),
    ("5.03(12)", 5.03, 0.12),
    ("50 V ± 2 %", 50, 1.0),
    ("4k7 ± 5 %", 4700, 235),
    ("4k7 ± 0k1", 4700, 100),
    ("4.7 ± 0.1 k", 4700, 100),
    ("1.2(1)e3", 1200, 100),
]


@pytest.mark.parametrize(("text", "value", "uncertainty"), UNCERTAIN)
def test_reads_uncertainty(text: str, value: float, uncertainty: float) -> None:
    found = read_quantity(text)
    assert (found.value, found.uncertainty) == pytest.approx((value, uncertainty), rel=1e-12)


ASKED = [
    # (text, expected unit, the readings offered, best first)
    ("1,234", "V", [1.234, 1234]),
    ("10M", "F", [10e-6, 10e-3]),
    ("10MF", "", [10e-6, 10e-3]),
    ("10 mF", "F", [10e-6, 10e-3]),
    ("1m", "ohm", [1e6, 1e-3]),
    ("1 mohm", "ohm", [1e6, 1e-3]),
    ("3.58 mHz", "Hz", [3.58e6, 3.58e-3]),
    ("2 mHz", "", [2e6, 2e-3]),
    ("5 m", "s", [5e-3, 300, 5e6]),
    ("5 MV", "V", [5e-3]),
    ("20MA", "A", [20e-3]),
    ("0.1", "F", [0.1, 0.1e-6, 0.1e-12]),
    ("100", "F", [100e-6, 100e-12, 10e-12]),
    # Three-digit code: trade pages, second hand. 104 is 100 nF, 479 is 4.7 pF.
    ("104", "F", [104e-6, 104e-12, 100e-9]),
    ("479", "F", [479e-6, 479e-12, 4.7e-12]),
    ("107", "F", [107e-6, 107e-12]),
    ("47", "H", [47, 47e-3, 47e-6]),
    ("4E7", "ohm", [40e6, 4.7]),
    ("0.2", "%", [0.2, 0.002]),
    ("12 K", "", [12, 12_000]),
    ("5 ± 20 mV", "V", [5e-3]),
]


@pytest.mark.parametrize(("text", "unit", "offered"), ASKED)
def test_asks_where_two_readings_are_possible(text: str, unit: str, offered: list[float]) -> None:
    ways = [way for way in possible_readings(text, unit) if way.standing != "unlikely"]
    assert sorted(way.measured.value for way in ways) == pytest.approx(sorted(offered))
    with pytest.raises(BadInput) as caught:
        read_quantity(text, unit)
    for way in ways:
        shown = str(way.measured) if way.measured.uncertainty else engineering(way.measured.value, way.measured.unit)
        assert shown in caught.value.found


REFUSED = [
    *("", " ", "V", "pulsing", "4x7", "4k7k", "4 k 7", "1.5.2", "12 12 V", "5 V 3", "--5", "1,2,3", "1 23 456", "１２"),
    *("10²", "1e999", "1e-999", "5 Pa", "5 mmin", "5 V ±", "± 5 V", "5 ± 1 ± 1", "5 V ± -1", "5 V ± 1 A", "5 ± OL"),
    *("2V474", "1H104", ">1k", "<5 V", "~5 V", "5 V?", "nan", "0x10", "1_000", "5.03()", "5.03(2", "9" * 100, "33L"),
    *("4k7 ± 100", "12 m in", "5 k°C", "470R5R", "-5 ohm"),
]


@pytest.mark.parametrize("text", REFUSED)
def test_refuses(text: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_quantity(text)
    assert all((caught.value.doing, caught.value.found, caught.value.allowed, caught.value.do_next))


@pytest.mark.parametrize(
    ("text", "unit"),
    [("12 V", "ohm"), ("12 V AC", "V"), ("47R", "F"), ("4n7 F", "H"), ("5 A", "V"), ("77 F", "degC"), ("20 %", "V")],
)
def test_refuses_another_unit(text: str, unit: str) -> None:
    with pytest.raises(BadInput, match="a value in"):
        read_quantity(text, unit)


def test_refuses_a_resistance_below_zero_with_the_reason() -> None:
    with pytest.raises(BadInput, match="below zero"):
        read_quantity("-5", "ohm")


def test_an_unknown_expected_unit_is_refused() -> None:
    with pytest.raises(BadInput, match="Cannot look up a unit"):
        read_quantity("5", "furlong")


E24 = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91]
"""IEC 60063, series E24 (from memory)."""


@pytest.mark.parametrize("base", E24)
@pytest.mark.parametrize(
    ("form", "unit", "factor"),
    [
        ("{0}R{1}", "ohm", 1),
        ("{0}k{1}", "ohm", 1e3),
        ("{0}M{1}", "ohm", 1e6),
        ("{0}p{1}", "F", 1e-12),
        ("{0}n{1}", "F", 1e-9),
        ("{0}u{1}", "F", 1e-6),
        ("{0}m{1}", "H", 1e-3),
        ("{0}µ{1}H", "H", 1e-6),
    ],
)
def test_every_e24_value_in_letter_code(base: int, form: str, unit: str, factor: float) -> None:
    """Construction with known answer: digits a, b in the form 'a LETTER b' are (a + b/10) times the letter's factor."""
    text = form.format(*divmod(base, 10))
    assert read_quantity(text, unit).value == pytest.approx(base / 10 * factor, rel=1e-15)


@pytest.mark.parametrize("base", E24)
@pytest.mark.parametrize(
    "form", ["{0}R{1}", "{0}k{1}", "{0}M{1}", "{0}p{1}", "{0}n{1}", "{0}u{1}", "{0}{1}0R", "R{0}{1}"]
)
def test_agrees_with_an_independent_reader_of_letter_codes(base: int, form: str) -> None:
    rkm_codes = pytest.importorskip("rkm_codes", reason="a test-time reference only")
    text = form.format(*divmod(base, 10))
    assert read_quantity(text).value == pytest.approx(float(rkm_codes.from_rkm(text)), rel=1e-12)


@given(st.text(max_size=100), st.sampled_from(["", "%", *filter(None, units())]))
def test_nothing_but_bad_input_comes_out(text: str, unit: str) -> None:
    try:
        found = read_quantity(text, unit)
    except BadInput:
        return
    assert not math.isnan(found.value)
    assert 0 <= found.uncertainty < math.inf


BENCH = st.text(st.sampled_from("0123456789.,-+±()/%eERkKmMunpµΩVAFHzs dcOL<>"), max_size=14)


@given(BENCH, st.sampled_from(["", "ohm", "V", "F", "s", "%", "V pp"]))
def test_nothing_but_bad_input_comes_out_of_near_misses(text: str, unit: str) -> None:
    try:
        found = read_quantity(text, unit)
    except BadInput:
        return
    # Whatever is read is among the ranked readings, alone in its standing.
    likely = [way for way in possible_readings(text, unit) if way.standing == "likely"]
    assert [way.measured for way in likely] == [found]
    assert units()[found.unit].believable(found.value)


PRINTED = st.sampled_from(["ohm", "V", "V AC", "V pp", "A", "F", "H", "Hz", "s", "W", "degC", "K", "dB", ""])


@given(st.floats(1e-9, 1e4), PRINTED, st.integers(1, 12))
def test_what_is_printed_is_read_back(value: float, unit: str, digits: int) -> None:
    if not units()[unit].believable(value) or not units()[unit].believable(float(f"{value:.0e}")):
        return
    read = read_quantity(engineering(value, unit, digits), unit if unit in {"F", "K"} else "")
    assert read.unit == unit
    assert read.value == pytest.approx(value, rel=0.51 * 10.0 ** (1 - digits))


@given(st.floats(1e-6, 1e4), PRINTED, st.floats(1e-4, 0.3))
def test_what_is_printed_with_uncertainty_is_read_back(value: float, unit: str, share: float) -> None:
    if not units()[unit].believable(value):
        return
    measured = Measured(value, unit, share * value)
    read = read_quantity(str(measured), unit)
    assert read.unit == unit
    # The last digit printed is at most half of the uncertainty; rounding is off by at most half of that digit.
    assert read.uncertainty == pytest.approx(measured.uncertainty, rel=0.2501)
    assert abs(read.value - value) <= 0.2501 * measured.uncertainty


@pytest.mark.parametrize("unit", [key for key in units() if key])
def test_over_limit_is_read_back(unit: str) -> None:
    assert read_quantity(engineering(math.inf, unit), unit).value == math.inf
