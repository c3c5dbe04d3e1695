"""Date codes against the calendar of the standard library and the letter sequence of IEC 60062."""

from __future__ import annotations

from datetime import date

import pytest

from kilter.measure.errors import OutOfRange
from kilter.parts.markings import read_marking
from kilter.parts.markings.dates import date_codes, weeks_of

TABLE = {
    **dict(zip("ABCDEFHJKL", range(1970, 1980), strict=True)),
    **dict(zip("MNPRSTUVWX", range(1980, 1990), strict=True)),
}
"""IEC 60062 in a public table of DIN 41314 with years written out: A 1970, M 1980, X 1989, and again after 20 years."""


def years(text: str, first: int, last: int, scheme: str) -> set[int]:
    """Years that one scheme gives."""
    return {one.fields["year"] for one in date_codes(text, first, last) if one.scheme == scheme}


@pytest.mark.parametrize("letter", TABLE)
def test_year_letters(letter: str) -> None:
    wanted = {TABLE[letter] + cycle for cycle in (0, 20, 40)}
    assert years(f"{letter}5", 1970, 2029, "year_letter_month") == wanted


@pytest.mark.parametrize("letter", "GIOQYZ")
def test_letters_without_a_year(letter: str) -> None:
    assert years(f"{letter}5", 1955, 2029, "year_letter_month") == set()


@pytest.mark.parametrize(("mark", "month"), [*((f"{n}", n) for n in range(1, 10)), ("O", 10), ("N", 11), ("D", 12)])
def test_months(mark: str, month: int) -> None:
    assert next(one.fields["month"] for one in date_codes(f"M{mark}", 1980, 1989)) == month


def test_month_first_until_1975() -> None:
    """The order was the other way round from 1969 to 1975, so '5D' is May 1973, and only that."""
    assert years("5D", 1955, 2029, "month_year_letter") == {1973}
    assert years("5M", 1955, 2029, "month_year_letter") == set()


@pytest.mark.parametrize("year", range(1955, 2030))
def test_week_53_only_where_the_year_has_one(year: int) -> None:
    """ISO 8601, by the standard library: the Monday of week 53 exists or not."""
    try:
        date.fromisocalendar(year, 53, 1)
        has = True
    except ValueError:
        has = False
    assert (weeks_of(year) == 53) == has
    assert (year in years(f"{year % 100:02}53", year, year, "year_week")) == has


def test_two_digits_repeat_with_the_century_and_one_with_the_decade() -> None:
    assert years("8432", 1955, 2029, "year_week") == {1984}
    assert years("2432", 1955, 2029, "year_week") == {2024}
    assert years("432", 1960, 1999, "year_digit_week") == {1964, 1974, 1984, 1994}


def test_nothing_is_picked_where_years_compete() -> None:
    (piece,) = read_marking("432", "date", first=1960, last=1999)
    assert {one.standing for one in piece.readings} == {"possible"}
    assert not piece.settled


def test_a_span_settles_it() -> None:
    (piece,) = read_marking("432", "date", first=1980, last=1989)
    assert piece.settled
    assert piece.readings[0].reading.fields == {"year": 1984, "week": 32}


@pytest.mark.parametrize("text", ["8400", "8454", "9999", "0000"])
def test_no_such_week(text: str) -> None:
    assert years(text, 1955, 2029, "year_week") == set()


def test_years_the_wrong_way_round() -> None:
    with pytest.raises(OutOfRange, match="earlier year first"):
        list(date_codes("8432", 1999, 1970))


def test_chip_and_date_are_two_pieces() -> None:
    pieces = read_marking("SN74LS138N 8432", last=1999)
    assert [piece.readings[0].reading.kind for piece in pieces] == ["logic", "date"]
