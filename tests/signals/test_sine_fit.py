"""Sine fits against scipy's least squares and against the Cramer-Rao bound (Rife and Boorstyn 1974, from memory)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kilter.signals.noise import spread_of
from kilter.signals.sine_fit import BLOCK, four_parameter_fit, three_parameter_fit
from kilter.signals.spectrum import amplitude_spectrum, lines_at, strongest_line


def sine(rng: np.random.Generator, count: int, frequency: float, noise: float) -> np.ndarray:
    return (
        0.3 + 1.5 * np.cos(2 * np.pi * frequency * np.arange(count) + rng.uniform(0, 6)) + rng.normal(0, noise, count)
    )


def bound(count: int, amplitude: float, noise: float) -> float:
    """Least standard deviation of a frequency, in cycles per sample."""
    return math.sqrt(24 * noise**2 / (amplitude**2 * count * (count**2 - 1))) / (2 * math.pi)


@pytest.mark.parametrize("count", [100, BLOCK - 1, BLOCK, 3 * BLOCK + 17])
def test_three_parameters_against_numpy(count: int) -> None:
    rng = np.random.default_rng(count)
    values = sine(rng, count, 0.0371, 0.1)
    turns = 2 * np.pi * 0.0371 * (np.arange(count) - (count - 1) / 2)
    design = np.stack([np.cos(turns), np.sin(turns), np.ones(count)], axis=1)
    theta = np.linalg.lstsq(design, values, rcond=None)[0]
    fit = three_parameter_fit(values, 0.0371)
    assert fit.amplitude == pytest.approx(math.hypot(theta[0], theta[1]), rel=1e-9)
    assert fit.offset == pytest.approx(theta[2], abs=1e-9)
    assert fit.residual == pytest.approx(float(np.std(values - design @ theta)), rel=1e-6)


@pytest.mark.parametrize("count", [200, 5000, 20_000])
def test_four_parameters_against_scipy(count: int) -> None:
    optimize = pytest.importorskip("scipy.optimize")
    rng = np.random.default_rng(count)
    frequency = 0.0513
    values, n = sine(rng, count, frequency, 0.05), np.arange(count)

    def model(t: np.ndarray, a: float, b: float, c: float, f: float) -> np.ndarray:
        return a * np.cos(2 * np.pi * f * t) + b * np.sin(2 * np.pi * f * t) + c

    start = three_parameter_fit(values, frequency)
    first = np.linalg.lstsq(
        np.stack([model(n, 1, 0, 0, frequency), model(n, 0, 1, 0, frequency)], 1), values, rcond=None
    )[0]
    best, covariance = optimize.curve_fit(model, n, values, p0=[*first, start.offset, frequency])
    fit = four_parameter_fit(values, frequency + 0.2 / count)
    assert fit.converged
    assert fit.frequency == pytest.approx(best[3], abs=0.02 * math.sqrt(covariance[3, 3]))
    assert fit.frequency_uncertainty == pytest.approx(math.sqrt(covariance[3, 3]), rel=0.01)


@pytest.mark.parametrize(("count", "decibels"), [(300, 20), (1000, 20), (1000, 40), (10_000, 30)])
def test_variance_is_near_the_bound(count: int, decibels: float) -> None:
    """At 20 dB and better the variance stays within 1.5 times the bound; 300 repeats leave it 8 % of chance."""
    rng = np.random.default_rng(7)
    noise = 1.5 / math.sqrt(2) / 10 ** (decibels / 20)
    off, told = [], []
    for _ in range(300):
        frequency = rng.uniform(0.02, 0.3)
        values = sine(rng, count, frequency, noise)
        fit = four_parameter_fit(values, strongest_line(values))
        off.append(fit.frequency - frequency)
        told.append(fit.frequency_uncertainty)
    least = bound(count, 1.5, noise)
    assert np.mean(np.square(off)) < 1.5 * least**2
    assert np.mean(told) == pytest.approx(least, rel=0.1)
    inside = np.mean(np.abs(off) < 1.96 * np.array(told))
    assert 0.90 <= inside <= 0.99


def test_spectrum_against_numpy() -> None:
    values = np.cos(2 * np.pi * 64 / 4096 * np.arange(4096)) * 0.7
    spectrum = amplitude_spectrum(values)
    assert spectrum.amplitudes.max() == pytest.approx(0.7, rel=1e-6)
    assert spectrum.frequencies[spectrum.amplitudes.argmax()] == pytest.approx(64 / 4096)


def test_lines_at_multiples_find_a_weak_line_beside_a_strong_one() -> None:
    """Bars on a picture: clock lines at multiples of a rate; closed form."""
    n = np.arange(200_000)
    values = np.cos(2 * np.pi * 0.01 * n) + 1e-4 * np.cos(2 * np.pi * 0.03 * n + 1)
    found = {round(line.frequency, 6): line.amplitude for line in lines_at(values, 0.01, range(1, 6))}
    assert found[0.01] == pytest.approx(1, rel=1e-6)
    assert found[0.03] == pytest.approx(1e-4, rel=1e-2)
    assert found[0.02] < 1e-6


@pytest.mark.parametrize("noise", [0.0, 0.02, 0.2])
def test_noise_is_found_under_edges(noise: float) -> None:
    rng = np.random.default_rng(3)
    values = np.where(np.arange(20_000) % 100 < 50, 0.0, 5.0) + rng.normal(0, noise, 20_000)
    assert spread_of(values).noise == pytest.approx(noise, rel=0.15, abs=1e-9)
