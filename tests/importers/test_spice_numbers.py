"""SPICE numbers against ngspice itself and against the scale factor table of its manual."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ngspice_authority import values_in_ngspice

from kilter.importers.spice_numbers import spice_doubt, spice_number

# Scale factors: ngspice manual, 'Some naming conventions' (T G Meg K mil m u n p f), and what may follow them.
MANUAL = {
    "1t": 1e12, "1G": 1e9, "1Meg": 1e6, "1MEG": 1e6, "1k": 1e3, "1K": 1e3, "1mil": 25.4e-6, "1m": 1e-3, "1M": 1e-3,
    "1u": 1e-6, "1n": 1e-9, "1p": 1e-12, "1f": 1e-15, "1000": 1e3, "1000.0": 1e3, "1000Hz": 1e3, "1e3": 1e3,
    "1.0e3": 1e3, "1kHz": 1e3, "10V": 10.0, "10Volts": 10.0, "10A": 10.0, "2.5mA": 2.5e-3, "100uF": 1e-4,
    "-3.5": -3.5, ".5": 0.5, "5.": 5.0, "+2": 2.0, "1e-3k": 1.0, "4.7kohm": 4700.0, "3MEGohm": 3e6, "0.5Mohm": 0.5e-3,
}  # fmt: skip


@pytest.mark.parametrize(("text", "value"), MANUAL.items())
def test_manual(text: str, value: float) -> None:
    assert spice_number(text) == pytest.approx(value, rel=1e-14)


@pytest.mark.ngspice
def test_ngspice_reads_the_same() -> None:
    texts = [*MANUAL, "2k2", "4R7", "1Meg5", "1x", "1e3k", "1d3", "2u7", "1.5meg", "7.25n", "1a"]
    # 1 pV tolerance where ngspice answers an operating point; the numbers span 1e-15 to 1e12 V.
    for text, theirs in zip(texts, values_in_ngspice(texts), strict=True):
        assert spice_number(text) == pytest.approx(theirs, rel=1e-9, abs=1e-18), text


@pytest.mark.parametrize("text", ["", "k", "R47", "rmod", "1..2", "--1", "1 k", "{1}", "e3", "0x10k!", "1e99999"])
def test_no_number(text: str) -> None:
    assert spice_number(text) is None


@pytest.mark.parametrize(
    ("text", "letter", "word"),
    [("1M", "R", "1Meg"), ("4.7M", "R", "milliohm"), ("2k2", "R", "2.2k"), ("4R7", "R", "4.7"), ("1F", "C", "femto"),
     ("10M", "C", "milli"), ("2n2", "C", "2.2n")],
)  # fmt: skip
def test_traps_are_questioned(text: str, letter: str, word: str) -> None:
    assert word in spice_doubt(text, letter)


@pytest.mark.parametrize(("text", "letter"), [("1Meg", "R"), ("10m", "C"), ("18.6f", "C"), ("5", "R")])
def test_plain_values_are_not_questioned(text: str, letter: str) -> None:
    assert spice_doubt(text, letter) == ""


@given(st.text(max_size=20))
def test_never_more_than_none(text: str) -> None:
    value = spice_number(text)
    assert value is None or isinstance(value, float)
    spice_doubt(text, "R")
    spice_doubt(text, "C")


@given(st.floats(min_value=1e-15, max_value=1e12))
def test_python_numbers_come_back(value: float) -> None:
    assert spice_number(repr(value)) == value
