"""Pads and coupling capacitors built in ngspice, with parts anywhere in their tolerance, meet what was asked."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi, sqrt

import numpy as np
import pytest
from bench_circuits import drawn, netlist

from kilter.measure.errors import OutOfRange
from kilter.safety.adaptation.audio import AudioSource, design_audio
from kilter.safety.adaptation.design import WITHIN
from kilter.simulate.ngspice import NgspiceWorker

SOURCES = (
    AudioSource(3.0, 8.0, 0.3162),
    AudioSource(3.0, 8.0, 0.3162, rest=6.0, corner=50.0),
    AudioSource(0.35, 4700.0, 0.3162, load=47e3),
    AudioSource(12.0, 100.0, 1.2277, load=600.0, corner=20.0, rest=-20.0, earthed=False),
    AudioSource(90.0, 4.7e3, 0.3162, load=22e3, rest=180.0, earthed=True),
)


@pytest.fixture(scope="module")
def worker() -> Iterator[NgspiceWorker]:
    with NgspiceWorker() as one:
        yield one


@pytest.mark.ngspice
@pytest.mark.parametrize("source", SOURCES, ids=str)
def test_level_and_corner(source: AudioSource, worker: NgspiceWorker) -> None:
    """Level within 1 dB at 1 kHz, and no more than half the power lost at the corner (3.0103 dB by definition)."""
    made, random = design_audio(source), np.random.default_rng(20)
    assert made.standing == WITHIN
    for _ in range(20):
        found = worker.ac(netlist(drawn(made.elements, random)), [source.corner, 1e3, 20e3])["out"]
        corner, middle, high = 20 * np.log10(np.abs(found) * source.volts / source.wanted)
        assert abs(middle) <= 1.0
        assert abs(high) <= 1.0
        assert corner - middle >= -10 * np.log10(2)


@pytest.mark.parametrize("source", SOURCES, ids=str)
def test_corner_by_its_closed_form(source: AudioSource) -> None:
    """Response of one resistor and capacitor: 1 / sqrt(1 + (fc/f)^2), with all resistances in series by hand."""
    made = design_audio(source)
    value = {one.name: one.value for one in made.elements}
    end = 1 / (1 / value["R2"] + 1 / value["RLOAD"]) if "R2" in value else value["RLOAD"]
    into = value.get("R1", 0.0) + end
    corner = 1 / (2 * pi * value["C1"] * (value["RSOURCE"] + into))
    for hertz, _, middle, _ in made.response:
        assert middle - made.response[-1][2] == pytest.approx(-20 * np.log10(sqrt(1 + (corner / hertz) ** 2)), abs=0.01)


def test_textbook_coupling() -> None:
    """The usual tutorial example: 1 uF into 10 kohm has its corner at 15.9 Hz, so 15.9 Hz wants more than 1 uF."""
    made = design_audio(AudioSource(0.3162, 0.0, 0.3162, corner=15.9155))
    assert next(one.value for one in made.elements if one.name == "C1") == pytest.approx(1.5e-6)


def test_source_that_is_too_small_is_refused() -> None:
    with pytest.raises(OutOfRange, match="passive pad cannot raise"):
        design_audio(AudioSource(0.1, 1e3, 0.3162))


def test_what_hums_and_what_kills_is_said() -> None:
    unknown = " ".join(design_audio(SOURCES[0]).cautions)
    assert "was not said" in unknown
    assert "hums" in unknown
    apart = " ".join(design_audio(SOURCES[3]).cautions)
    assert "hums" not in apart
    high = " ".join(design_audio(SOURCES[4]).cautions)
    assert "180 V can kill" in high
    assert "never taken off" in high


def test_no_capacitor_for_more_than_any_is_made_for() -> None:
    with pytest.raises(OutOfRange, match="high voltage"):
        design_audio(AudioSource(90.0, 4.7e3, 0.3162, rest=600.0))
