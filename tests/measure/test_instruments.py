"""Instruments: their limits of error against a published example and against the geometry of a pointer's scale."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilter.measure.accuracy import Accuracy
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instrument, instruments, readers
from kilter.measure.quantities import quantities


def test_digital_voltmeter_of_gum_437() -> None:
    """
    GUM (JCGM 100:2008), 4.3.7, example 2, from memory: 0.928 571 V on the 1 V range of a meter good to 14 ppm of the
    reading and 2 ppm of the range: half-width 15 microvolts, standard uncertainty 8.7 microvolts.
    """
    meter = Accuracy("counts", 14e-4, (1.0,), digits=2, counts=1e6)
    assert meter.limits(0.928571) == pytest.approx(15e-6, abs=0.05e-6)
    assert meter.standard(0.928571) == pytest.approx(8.7e-6, abs=0.05e-6)


@given(st.floats(0.5, 2e6))
def test_ohmmeter_limits_are_those_of_its_pointer(ohms: float) -> None:
    """A pointer at m/(R+m) of the arc, moved by a small share of the arc both ways, read back as a resistance."""
    meter, shift = Accuracy("arc", 3.0, (20.0, 200.0, 2e3, 20e3, 200e3)), 1e-7
    widths = []
    for middle in meter.ranges:
        place = middle / (ohms + middle)
        if shift < place < 1 - shift:
            turned = [middle / (place + sign * shift) - middle for sign in (-1, 1)]
            widths.append(abs(turned[0] - turned[1]) / 2 * 0.03 / shift)
    assert meter.limits(ohms) == pytest.approx(min(widths), rel=1e-4)


def test_the_lowest_range_that_holds_the_value() -> None:
    """Closed form: a 2000-count display steps by 1 mV up to 1.999 V, from 2.00 V on by 10 mV."""
    meter = Accuracy("counts", 0.0, (0.2, 2.0, 20.0), digits=1, counts=2000)
    assert meter.limits([0.1999, 1.999, 2.0, -19.0]) == pytest.approx([1e-4, 1e-3, 1e-2, 1e-2])
    pointer = Accuracy("full_scale", 3.0, (2.5, 10.0))
    assert pointer.limits([2.5, 2.6, -9.0]) == pytest.approx([0.075, 0.3, 0.3])


@pytest.mark.parametrize("key", instruments())
def test_every_instrument_is_whole(key: str) -> None:
    entry = instrument(key)
    assert entry.source
    assert entry.words
    assert 0 < entry.outlier_share < 0.5
    assert entry.input_ohm > 0
    for name, accuracy in entry.reads.items():
        assert quantities()[name].numeric
        assert list(accuracy.ranges) == sorted(accuracy.ranges)
        assert accuracy.law in {"counts", "full_scale", "arc"}
        assert accuracy.percent > 0
    assert all(not quantities()[name].numeric for name in entry.sees)


@pytest.mark.parametrize("key", instruments())
def test_uncertainty_is_above_zero_and_grows_with_the_reading(key: str) -> None:
    for name, accuracy in instrument(key).reads.items():
        values = np.geomspace(accuracy.ranges[0] / 1000, accuracy.ranges[-1], 200)
        found = instrument(key).standard_uncertainties(name, values)
        assert (found > 0).all()
        assert (np.diff(found) >= -1e-15).all()
        assert instrument(key).standard_uncertainty(name, math.inf) == math.inf


def test_test_sources_as_reported() -> None:
    """Three multimeters on a public page: open voltage and current of the ohms and diode modes."""
    reported = {"strong_ohms_dmm": (2770, 7.3), "dmm": (738.5, 3.3), "precise_dmm": (1709.7, 2.5)}
    for key, (ohms, diode_volts) in reported.items():
        entry = instrument(key)
        assert entry.ohms_source is not None
        assert entry.diode_source is not None
        assert entry.ohms_source.series_ohm == pytest.approx(ohms, rel=1e-3)
        assert entry.diode_source.open_volts == diode_volts


def test_loading() -> None:
    """20 kilohm per volt of the range in use: 1 megohm on 50 V. Closed form."""
    assert instrument("analogue meter").loading_ohm(30.0) == 1e6
    assert instrument("dmm").loading_ohm(30.0) == 10e6
    assert instrument("eye").loading_ohm(30.0) == math.inf


def test_a_word_has_no_uncertainty() -> None:
    assert instrument("logic probe").standard_uncertainty("level", math.nan) == 0.0


def test_what_an_instrument_cannot_read_is_refused() -> None:
    with pytest.raises(BadInput, match="dmm, precise_dmm"):
        instrument("eye").standard_uncertainty("voltage", 5.0)
    with pytest.raises(BadInput, match="Cannot look up a quantity"):
        instrument("eye").standard_uncertainty("aura", 5.0)
    with pytest.raises(BadInput, match="Cannot look up an instrument"):
        instrument("crystal ball")


def test_what_a_display_covers() -> None:
    dmm = instrument("dmm")
    assert dmm.covers("resistance", 20e6)
    assert not dmm.covers("resistance", 30e6)
    assert dmm.covers("resistance", math.inf)
    assert not dmm.covers("ripple", 0.1)
    assert "dmm" in readers("voltage")
