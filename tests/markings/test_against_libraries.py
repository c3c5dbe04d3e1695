"""E series and letter codes over all values against two libraries; where those are wrong, against the standard."""

from __future__ import annotations

import pytest
from eseries import ESeries, series
from rkm_codes import from_rkm

from kilter.measure.tables import table
from kilter.parts.markings import read_colours, read_marking
from kilter.parts.markings.bands import bands_of

NAMES = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")
RULE_FAILS = {"E24": (27, 30, 33, 36, 39, 43, 47, 82), "E192": (920,)}
"""Members that rounding a geometric series does not give (IEC 60063)."""
DIGITS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
"""IEC 60062, typed here once more so that the data file is checked."""
LETTERS = {"resistor": (("R", 1.0), ("K", 1e3), ("M", 1e6), ("G", 1e9)),
           "capacitor": (("p", 1e-12), ("n", 1e-9), ("µ", 1e-6), ("m", 1e-3))}  # fmt: skip
KEYS = {"resistor": "resistance", "capacitor": "capacitance"}


@pytest.mark.parametrize("name", NAMES)
def test_every_member_of_every_series(name: str) -> None:
    theirs = list(series(ESeries[name]))
    assert table("e_series")[name] == pytest.approx([one / theirs[0] for one in theirs], rel=1e-12)


@pytest.mark.parametrize(("name", "digits"), [("E24", 1), ("E48", 2), ("E96", 2), ("E192", 2)])
def test_the_rounding_rule_fails_where_the_standard_says(name: str, digits: int) -> None:
    """Otherwise a formula could have been used in place of the table."""
    ours = table("e_series")[name]
    by_rule = [round(10 ** (step / len(ours)), digits) for step in range(len(ours))]
    off = tuple(round(one * 10**digits) for one, rule in zip(ours, by_rule, strict=True) if abs(one - rule) > 1e-9)
    assert off == RULE_FAILS.get(name, ())


def letter_codes(kind: str) -> list[tuple[str, float]]:
    """Every member of E24 with every letter, in the three places that the letter can have."""
    found = []
    for letter, factor in LETTERS[kind]:
        for member in table("e_series")["E24"]:
            tens = round(member * 10)
            found += [(f"{tens // 10}{letter}{tens % 10}", member * factor), (f"{tens}{letter}", tens * factor),
                      (f"{letter}{tens}", tens / 100 * factor)]  # fmt: skip
    return found


@pytest.mark.parametrize("kind", LETTERS)
def test_letter_codes_agree_with_a_library(kind: str) -> None:
    """rkm-codes 1.0, over all of E24; each value also follows from the code by arithmetic."""
    for text, value in letter_codes(kind):
        theirs = from_rkm(text)
        assert theirs is not None
        assert float(theirs) == pytest.approx(value, rel=1e-9)
        ours = read_marking(text, kind)[0].readings
        match = [one for one in ours if one.reading.fields.get(KEYS[kind]) == pytest.approx(value, rel=1e-9)]
        assert match, text
        assert match[0] is ours[0] or kind == "capacitor", (text, ours[0].reading.words)


def test_where_the_library_is_wrong() -> None:
    """IEC 60062 has L for milliohm, and a tolerance letter B behind the value."""
    assert float(from_rkm("33L")) == 33.0
    assert read_marking("33L", "resistor")[0].readings[0].reading.fields["resistance"] == pytest.approx(0.033)
    assert "B" in str(from_rkm("47kB").units)
    fields = read_marking("47kB", "resistor")[0].readings[0].reading.fields
    assert fields["resistance"] == 47e3
    assert fields["tolerance"] == [-0.001, 0.001]


@pytest.mark.parametrize("place", range(1, 97))
def test_every_place_of_the_e96_code(place: int) -> None:
    """E96 is 10^(n/96) rounded to three figures (IEC 60063), without exception."""
    figures = round(100 * 10 ** ((place - 1) / 96))
    for letter, factor in (("Z", 1e-3), ("Y", 1e-2), ("X", 0.1), ("A", 1.0), ("B", 10.0), ("C", 100.0), ("D", 1e3),
                           ("E", 1e4), ("F", 1e5)):  # fmt: skip
        readings = read_marking(f"{place:02}{letter}", "resistor")[0].readings
        codes = [one.reading for one in readings if one.reading.scheme == "e96_code"]
        assert [one.fields["resistance"] for one in codes] == [pytest.approx(figures * factor, rel=1e-9)]


@pytest.mark.parametrize("decade", range(7))
def test_every_five_percent_resistor_in_colours(decade: int) -> None:
    """Members of E24 written as figures and noughts; gold can only be last, so there is one reading."""
    for member in table("e_series")["E24"]:
        tens = round(member * 10)
        bands = [DIGITS[tens // 10], DIGITS[tens % 10], DIGITS[decade], "gold"]
        for order in (bands, bands[::-1]):
            first = read_colours(bands_of(order)).readings[0].reading
            assert first.fields["resistance"] == pytest.approx(tens * 10.0**decade)
            assert first.fields["tolerance"] == [-0.05, 0.05]


@pytest.mark.parametrize("decade", range(5))
def test_every_one_percent_resistor_in_colours(decade: int) -> None:
    """The right value is always among the readings, and first or of the same rank as the first read backwards."""
    for member in table("e_series")["E96"]:
        figures = round(member * 100)
        bands = [DIGITS[int(digit)] for digit in f"{figures}"] + [DIGITS[decade], "brown"]
        readings = read_colours(bands_of(bands)).readings
        shares = {round(one.reading.fields["resistance"], 6): one.share for one in readings[::-1]}
        right = round(figures * 10.0**decade, 6)
        assert shares[right] >= 0.3 * readings[0].share, bands


def test_both_ends_are_read_unless_a_gap_tells() -> None:
    """Brown black black red brown and its mirror image are both of E96: 10 kilohm and 120 ohm, 1 %."""
    words = ["brown", "black", "black", "red", "brown"]
    first, second = read_colours(bands_of(words)).readings[:2]
    assert {first.reading.fields["resistance"], second.reading.fields["resistance"]} == {10e3, 120.0}
    assert first.standing == second.standing == "possible"
    for gap, value in (("last", 10e3), ("first", 120.0)):
        told = read_colours(bands_of(words), gap=gap).readings[0]
        assert (told.reading.fields["resistance"], told.standing) == (value, "likely")
