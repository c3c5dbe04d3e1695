"""Waveforms with known answers (closed forms; see synthetic_captures.py): results and coverage, doubts and refusals."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pytest
from synthetic_captures import edge, square, trials

from kilter.measure.errors import BadInput
from kilter.signals.analyse import analyse
from kilter.signals.analysis import OTHER, SINE, STATES, STEADY, Analysis
from kilter.signals.scope import IDEAL, Scope
from kilter.signals.waveform import Waveform

N = np.arange(20_000, dtype=float)


def look(values: np.ndarray, interval: float = 1e-8, scope: Scope = IDEAL) -> Analysis:
    return analyse(Waveform("CH1", values, interval), scope)


def noise(size: float, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, size, len(N))


@pytest.fixture(scope="module")
def scores() -> dict[str, list[float]]:
    """Errors over stated uncertainties of 400 random captures; benchmarks/captures.py does it with 1,000."""
    found: dict[str, list[float]] = defaultdict(list)
    for made in trials(400, seed=11):
        results = analyse(made.wave, made.scope).results
        for key, truth in made.truth.items():
            if key in results:
                found[key].append((results[key].value - truth) / results[key].uncertainty)
    return found


def test_stated_uncertainty_covers(scores: dict[str, list[float]]) -> None:
    """Nominal 95 %: between 90 and 99 % over all results together."""
    everything = np.concatenate([np.array(one) for one in scores.values()])
    assert 0.90 <= np.mean(np.abs(everything) < 1.96) <= 0.99


@pytest.mark.parametrize("key", ["frequency", "low", "high", "rise", "fall", "duty", "amplitude"])
def test_each_result_covers(scores: dict[str, list[float]], key: str) -> None:
    """One result has a few hundred trials: three standard deviations of chance (4.5 %) are allowed below 92 %."""
    one = np.abs(scores[key])
    assert len(one) > 80
    assert np.mean(one < 1.96) > 0.92 - 3 * np.sqrt(0.95 * 0.05 / len(one))


@pytest.mark.parametrize("shape", ["ramp", "exponential", "gaussian"])
def test_rise_time_of_closed_forms(shape: str) -> None:
    values = 3.3 * square(N, 97.3, 0.4, 6.0, 9.0, 11.0, shape)
    results = look(values + noise(0.005)).results
    assert results["rise"].value == pytest.approx(60e-9, rel=0.02)
    assert results["fall"].value == pytest.approx(90e-9, rel=0.02)
    assert results["low"].value == pytest.approx(0, abs=0.005)
    assert results["high"].value == pytest.approx(3.3, abs=0.005)
    assert results["duty"].value == pytest.approx(0.4, abs=5e-4)


def test_edge_of_the_generator_is_right() -> None:
    """The generator itself: 10 to 90 % by interpolation of its closed forms."""
    t = np.linspace(-50, 50, 100_001)
    for shape in ("ramp", "exponential", "gaussian"):
        values = edge(shape, t, 8.0)
        assert np.interp(0.9, values, t) - np.interp(0.1, values, t) == pytest.approx(8.0, rel=1e-3)
        assert np.interp(0.5, values, t) == pytest.approx(0, abs=0.01)


def test_overshoot() -> None:
    """A damped ring of 20 % on a step: its first peak is exp(-decay * half period) of it (closed form)."""
    since = (N + 50) % 500
    high = since < 250
    ring = 0.2 * np.exp(-since / 40) * np.sin(2 * np.pi * since / 20) * high
    results = look(5 * high + 5 * ring + noise(0.01)).results
    assert results["overshoot"].value == pytest.approx(0.2 * np.exp(-5 / 40), abs=0.02)


def test_jitter_is_that_of_the_edges() -> None:
    rng = np.random.default_rng(2)
    starts = np.arange(0, 190) * 100.0 + 50 + rng.normal(0, 1.0, 190)
    values = np.zeros(len(N))
    for start in starts:
        values += np.clip((N - start) / 4 + 0.5, 0, 1) - np.clip((N - start - 50) / 4 + 0.5, 0, 1)
    results = look(5 * values + noise(0.01)).results
    assert results["jitter"].value == pytest.approx(1e-8, rel=0.15)


def test_kinds() -> None:
    assert look(5 + noise(0.01)).kind == STEADY
    assert look(2 + np.sin(0.0777 * N) + noise(0.02)).kind == SINE
    assert look(np.abs((N / 100) % 2 - 1) + noise(0.01)).kind == OTHER
    assert look(np.where(N % 100 < 30, 0, 5.0) + noise(0.1)).kind == STATES


def test_triangle_has_a_frequency_but_no_states() -> None:
    results = look(np.abs((N / 100) % 2 - 1) + noise(0.01))
    assert results.results["frequency"].value == pytest.approx(1 / 200e-8, rel=1e-4)
    assert "low" in results.missing


def test_short_records_say_so() -> None:
    step = look(np.where(N > 9000, 5.0, 0.0) + noise(0.05))
    assert "too short" in step.missing["frequency"]
    slow = look(np.sin(2 * np.pi * 1.1 * N / len(N)))
    assert "too short" in slow.missing["frequency"]
    with pytest.raises(BadInput, match="16 or more"):
        look(np.zeros(5))


def test_few_samples_on_an_edge_are_a_bound() -> None:
    found = look(np.where((N + 0.3) % 101.7 < 50, 0, 5.0) + noise(0.02))
    assert "shorter than two samples" in found.missing["rise"]


def test_aliasing_is_suspected() -> None:
    found = look(np.sin(2 * np.pi * 0.31 * N) + noise(0.01))
    assert any(words.startswith("Aliasing") for words in found.doubts)


def test_clipping_is_suspected_where_it_is_and_not_elsewhere() -> None:
    codes = np.round((2 * np.sin(0.0077 * N) + noise(0.03)) / 0.02)
    assert any(words.startswith("Clipping") for words in look(np.clip(codes, -75, 75) * 0.02).doubts)
    assert not any(words.startswith("Clipping") for words in look(codes * 0.02).doubts)


def test_irregular_edges_have_no_frequency() -> None:
    rng = np.random.default_rng(4)
    bits = np.repeat(rng.integers(0, 2, 2000), 10)[: len(N)]
    found = look(5.0 * bits + noise(0.05))
    assert "frequency" not in found.results
    assert found.results["high"].value == pytest.approx(5, abs=0.01)


def test_noise_alone_and_walks_tell_no_frequency() -> None:
    assert "frequency" not in look(noise(1.0)).results
    assert "frequency" not in look(noise(1.0).cumsum()).results


def test_without_interval_levels_are_told_but_no_times() -> None:
    found = analyse(Waveform("CH1", np.where(N % 100 < 30, 0, 5.0) + noise(0.1), None))
    assert found.results["high"].value == pytest.approx(5, abs=0.05)
    assert found.results["duty"].value == pytest.approx(0.7, abs=0.01)
    assert "interval" in found.missing["frequency"]


def test_gaps_leave_the_longest_piece() -> None:
    values = np.sin(0.05 * N)
    values[3000] = np.nan
    found = look(values)
    assert found.first == 3001
    assert found.results["frequency"].value == pytest.approx(0.05 / (2 * np.pi) * 1e8, rel=1e-6)


@pytest.mark.parametrize(("mains", "harmonic"), [(50.0, 2), (49.7, 1), (60.0, 2), (60.2, 1)])
def test_hum_is_split_off(mains: float, harmonic: int) -> None:
    """A hum line of known size beside noise of known size: closed forms."""
    t = N * 2e-5
    values = 5 + 0.1 * np.sin(2 * np.pi * harmonic * mains * t + 1) + noise(0.02)
    results = look(values, 2e-5).results
    assert results["hum"].value == pytest.approx(0.1 / np.sqrt(2), rel=0.02)
    assert results["hum_frequency"].value == pytest.approx(mains, rel=2e-3)
    assert results["other_ripple"].value == pytest.approx(0.02, rel=0.03)


def test_time_base_and_gain_are_in_what_is_stated() -> None:
    results = look(5 + 2 * np.sin(0.05 * N), scope=Scope(gain=0.02, offset=0.0, time_base=1e-4)).results
    assert results["amplitude"].uncertainty == pytest.approx(0.04, rel=1e-3)
    assert results["frequency"].uncertainty / results["frequency"].value == pytest.approx(1e-4, rel=1e-3)


@pytest.mark.parametrize("period", [2.0, 4.0, 5.0, 6.0, 8.0, 2048.0])
@pytest.mark.parametrize("step", [0.0, 0.04, 0.4])
def test_few_distinct_instants_never_stop_the_analysis(period: float, step: float) -> None:
    """Sampled in step with the wave, every edge shows the same few samples: no endless claim, no error."""
    n = np.arange(8192, dtype=float)
    for rise in (0.0, 0.3, 1.0, 2.5):
        values = 10 * square(n, period, 0.5, max(rise, 1e-9), max(rise, 1e-9), 0.0, "ramp")
        results = look(np.round(values / step) * step if step else values, 8e-6).results
        assert all(np.isfinite(one.value) and one.uncertainty >= 0 for one in results.values())
        if "frequency" in results:
            told = results["frequency"]
            assert abs(told.value * period * 8e-6 - 1) <= 5 * told.uncertainty / told.value + 1e-6
