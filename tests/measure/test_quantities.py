"""The quantities and their scales: what the data must hold, and the scales against calculus."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilter.measure.errors import BadInput
from kilter.measure.instruments import instruments
from kilter.measure.quantities import guess_quantity, quantities, quantity
from kilter.measure.scales import from_scale, scaled_range, scaled_uncertainty, to_scale
from kilter.measure.units import units

NUMERIC = [key for key, entry in quantities().items() if entry.numeric]
WORDS = [key for key, entry in quantities().items() if not entry.numeric]


@pytest.mark.parametrize("key", quantities())
def test_every_quantity_is_whole(key: str) -> None:
    entry = quantity(key)
    assert entry.unit in units()
    assert entry.source
    assert entry.minutes > 0
    assert 0 <= entry.grade <= 6
    assert 0 <= entry.risk_object < 1
    assert 0 <= entry.risk_person < 1
    assert instruments()[entry.default_instrument].can_read(key)


@pytest.mark.parametrize("key", NUMERIC)
def test_every_number_has_a_scale(key: str) -> None:
    entry = quantity(key)
    assert entry.low < entry.high
    assert entry.over_limit > 0
    assert entry.scale in {"linear", "log"}
    assert (entry.floor > 0) == (entry.scale == "log")
    assert not entry.categories


def test_an_unknown_quantity_is_refused_with_the_list() -> None:
    with pytest.raises(BadInput, match="voltage, ac_voltage"):
        quantity("volts")


@pytest.mark.parametrize(
    ("word", "key"),
    [
        ("V", "voltage"),
        ("V DC", "voltage"),
        ("V AC", "ac_voltage"),
        ("V pp", "ripple"),
        ("ohm", "resistance"),
        ("Ω", "resistance"),
        ("A", "current"),
        ("Hz", "frequency"),
        ("F", "capacitance"),
        ("H", "inductance"),
        ("s", "duration"),
        ("K", "temperature_rise"),
        ("degC", "temperature"),
        ("pulsing", "level"),
        ("Bulged", "look"),
        ("hot", "heat"),
        ("renewed", "done"),
        ("distorted", "sound"),
        ("diode", "diode"),
        ("none", None),
        ("right", None),
        ("W", None),
        ("%", None),
        ("", None),
        ("purple", None),
    ],
)
def test_guesses_only_what_is_certain(word: str, key: str | None) -> None:
    assert guess_quantity(word) == key


@pytest.mark.parametrize("key", NUMERIC)
def test_the_ends_of_a_scale(key: str) -> None:
    entry = quantity(key)
    low, high = scaled_range(key)
    assert to_scale(key, [-math.inf, math.inf]).tolist() == [low, high]
    assert math.isnan(to_scale(key, math.nan))
    assert from_scale(key, [-math.inf, low, high, math.inf]) == pytest.approx(
        [entry.low, entry.low, entry.high, entry.high], rel=1e-12, abs=1e-18
    )


@given(st.sampled_from(NUMERIC), st.floats(0, 1))
def test_there_and_back(key: str, share: float) -> None:
    low, high = scaled_range(key)
    place = low + share * (high - low)
    # Near zero on a log scale value + floor cancels: one rounding of the floor, relative to the floor, is the limit.
    assert to_scale(key, from_scale(key, place)) == pytest.approx(place, rel=1e-9, abs=1e-9)


@given(st.sampled_from(NUMERIC), st.floats(0.01, 0.99), st.floats(1e-9, 1e-4))
def test_uncertainty_is_the_slope_of_the_scale(key: str, share: float, relative: float) -> None:
    """Second method: a central difference of the scale itself."""
    entry = quantity(key)
    value = entry.low + share * (entry.high - entry.low)
    step = 1e-5 * max(abs(value), 1e-3 * (entry.high - entry.low))
    slope = (to_scale(key, value + step) - to_scale(key, value - step)) / (2 * step)
    spread = relative * max(abs(value), 1e-6)
    assert scaled_uncertainty(key, value, spread) == pytest.approx(slope * spread, rel=1e-3)


@pytest.mark.parametrize("key", NUMERIC)
def test_uncertainty_stays_sane_at_the_ends(key: str) -> None:
    low, high = scaled_range(key)
    widest = (high - low) / math.sqrt(12)
    values = np.array([0.0, math.inf, math.inf, 1e300, -math.inf, 0.0, math.nan])
    spreads = np.array([math.inf, 0.0, math.inf, 1e300, math.nan, 0.0, 1.0])
    found = scaled_uncertainty(key, values, spreads)
    assert np.isfinite(found).all()
    assert (found <= widest * (1 + 1e-12)).all()
    assert found[0] == pytest.approx(widest)
    assert found[1] == found[2] == quantity(key).over_limit
    assert found[5] == 0


def test_words_have_no_scale() -> None:
    for key in WORDS:
        with pytest.raises(BadInput, match="read as a word"):
            to_scale(key, [0.0])


def test_shapes_are_kept() -> None:
    grid = np.ones((2, 3))
    assert to_scale("resistance", grid).shape == (2, 3)
    assert scaled_uncertainty("resistance", grid, 0.1).shape == (2, 3)
