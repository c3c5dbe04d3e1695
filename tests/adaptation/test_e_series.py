"""Preferred numbers against the independent library `eseries`, and against the definition of E96 by rounding."""

from __future__ import annotations

import pytest
from eseries import ESeries, find_greater_than_or_equal, find_less_than_or_equal, find_nearest_few, series
from hypothesis import given
from hypothesis import strategies as st

from kilter.measure.e_series import at_least, at_most, nearest, neighbours
from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table

NAMES = ("E3", "E6", "E12", "E24", "E96")
VALUES = st.floats(1e-12, 1e9)


@pytest.mark.parametrize("name", NAMES)
def test_one_decade(name: str) -> None:
    """The library lists a decade as 10 to 91 or 100 to 976; only ratios count."""
    theirs = list(series(ESeries[name]))
    assert table("e_series")[name] == pytest.approx([one / theirs[0] for one in theirs], rel=1e-12)


def test_e96_is_the_rounded_geometric_series() -> None:
    """IEC 60063: E48 and finer are 10^(i/n) rounded to three digits. From memory."""
    assert table("e_series")["E96"] == [round(10 ** (step / 96), 2) for step in range(96)]


@given(VALUES, st.sampled_from(NAMES))
def test_above_and_below(value: float, name: str) -> None:
    above, below = at_least(value, name), at_most(value, name)
    assert above == pytest.approx(find_greater_than_or_equal(ESeries[name], value * (1 - 1e-12)), rel=1e-9)
    assert below == pytest.approx(find_less_than_or_equal(ESeries[name], value * (1 + 1e-12)), rel=1e-9)


@given(VALUES, st.sampled_from(NAMES))
def test_nearest_is_nearest_by_ratio(value: float, name: str) -> None:
    """Theirs are the nearest by difference: ours is one of their three, and no other of them is nearer by ratio."""
    found = nearest(value, name)
    few = find_nearest_few(ESeries[name], value, num=3)
    assert any(found == pytest.approx(one, rel=1e-9) for one in few)
    assert all(max(found / value, value / found) <= max(one / value, value / one) * (1 + 1e-9) for one in few)


def test_neighbours_go_over_the_end_of_a_decade() -> None:
    assert neighbours(1000.0, 2) == [820.0, 910.0, 1000.0, 1100.0, 1200.0]


@pytest.mark.parametrize("value", [0.0, -3.0, float("nan"), float("inf")])
def test_no_value_for_what_is_no_size(value: float) -> None:
    with pytest.raises(OutOfRange, match="above 0"):
        nearest(value)
