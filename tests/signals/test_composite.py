"""Composite video drawn from the published figures of two systems (see data/composite_video.toml) and read again."""

from __future__ import annotations

import numpy as np
import pytest

from kilter.measure.errors import BadInput
from kilter.signals.composite import composite, systems
from kilter.signals.scope import IDEAL
from kilter.signals.waveform import Waveform

RATE = 40e6


def picture(key: str, lines: int, *, factor: float = 1.0, burst: bool = True, fields: int = 0) -> np.ndarray:
    """Lines of a grey ramp with sync, porches and burst; vertical syncs of broad pulses every `fields` lines."""
    one = systems()[key]
    t = np.arange(int(lines / one["line_rate"] * RATE)) / RATE + 3.3e-6
    number, at = np.divmod(t, 1 / one["line_rate"])
    at -= 1e-6  # the leading edge of sync stands whole inside the line
    active = (at > one["blanking"] - one["front_porch"]) & (at < 1 / one["line_rate"] - one["front_porch"])
    values = np.where(active, one["white"] * (at * one["line_rate"]), 0.0)
    width = np.where((number % fields < 3) if fields else False, 27.3e-6, one["sync"])
    fall, rise = np.clip(at / one["sync_edge"] + 0.5, 0, 1), np.clip((at - width) / one["sync_edge"] + 0.5, 0, 1)
    values = np.where(at < width + 1e-6, 0.0, values) - one["sync_level"] * (fall - rise)
    if burst:
        length = one["burst_cycles"] / one["subcarrier"]
        inside = (at > one["burst_start"]) & (at < one["burst_start"] + length)
        values += inside * one["burst"] / 2 * np.sin(2 * np.pi * one["subcarrier"] * t) * (width < 10e-6)
    return factor * values + np.random.default_rng(1).normal(0, 0.004, len(t)) + 0.4


@pytest.mark.parametrize("key", ["625", "525"])
def test_figures_come_back(key: str) -> None:
    one = systems()[key]
    found = composite(Waveform("CH1", picture(key, 60), 1 / RATE), IDEAL)
    assert found.system == key
    assert found.results["line_rate"].value == pytest.approx(one["line_rate"], rel=1e-5)
    assert found.results["sync"].value == pytest.approx(one["sync"], abs=0.03e-6)
    assert found.results["sync_level"].value == pytest.approx(one["sync_level"], rel=0.01)
    assert found.results["burst"].value == pytest.approx(one["burst"], rel=0.03)
    assert found.results["subcarrier"].value == one["subcarrier"]
    assert "field" in found.missing
    assert found.remarks == ()


@pytest.mark.parametrize(("factor", "words"), [(2.0, "termination may be missing"), (0.5, "two terminations")])
def test_wrong_termination_is_remarked(factor: float, words: str) -> None:
    found = composite(Waveform("CH1", picture("625", 40, factor=factor), 1 / RATE), IDEAL)
    assert any(words in remark for remark in found.remarks)


def test_no_burst_is_told_as_none() -> None:
    found = composite(Waveform("CH1", picture("525", 40, burst=False), 1 / RATE), IDEAL)
    assert "no burst" in found.missing["burst"]


def test_fields_of_a_computer_without_interlace() -> None:
    """312 lines at 15,625 Hz make 50.08 fields a second (closed form)."""
    found = composite(Waveform("CH1", picture("625", 800, fields=312), 1 / RATE), IDEAL)
    assert found.results["lines"].value == pytest.approx(312, abs=0.05)
    assert found.results["field"].value == pytest.approx(50.08, abs=0.01)


def test_what_is_no_video_is_refused() -> None:
    with pytest.raises(BadInput):
        composite(Waveform("CH1", np.random.default_rng(1).normal(size=50_000), 1e-7))
    with pytest.raises(BadInput, match="interval"):
        composite(Waveform("CH1", np.zeros(500), None))
