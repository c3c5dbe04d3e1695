"""Captures with known answers: closed forms, sampled, with noise, steps of a converter and errors of a scope."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.signals.scope import Scope
from kilter.signals.waveform import Waveform

Floats = NDArray[np.float64]
SHAPES = ("ramp", "exponential", "gaussian")


@dataclass(frozen=True, eq=False)
class Made:
    """A waveform, the instrument it is told to be from, and the truth by result key."""

    wave: Waveform
    scope: Scope
    truth: dict[str, float]


def edge(shape: str, t: Floats, duration: float) -> Floats:
    """A step from 0 to 1 that is half-way at t = 0 and takes `duration` from 10 to 90 %: closed forms."""
    if shape == "ramp":
        return np.clip(t / (duration / 0.8) + 0.5, 0, 1)
    if shape == "exponential":
        tau = duration / math.log(9)
        return np.where(t > -tau * math.log(2), 1 - 0.5 * np.exp(-np.maximum(t, -tau) / tau), 0.0)
    sigma = duration / 2.5631031310892007
    return np.vectorize(math.erfc)(np.clip(-t / sigma / math.sqrt(2), -6, 6)) / 2


def square(n: Floats, period: float, duty: float, rise: float, fall: float, phase: float, shape: str) -> Floats:
    """A square wave between 0 and 1; all in samples."""
    around = np.linspace(-0.5 * period, 0.5 * period, 4001)
    found = np.zeros(len(n))
    up, down = edge(shape, around, rise), edge(shape, around, fall)
    tau = (n + phase) % period
    for shift in (-period, 0.0, period):
        found += np.interp(tau - shift, around, up, left=0, right=1)
        found -= np.interp(tau - shift - duty * period, around, down, left=0, right=1)
    return found


def trials(count: int, seed: int = 1) -> Iterator[Made]:
    """Random captures over shapes, noise, sample rates, record lengths and steps."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        yield made(rng)


def made(rng: np.random.Generator) -> Made:
    """One random capture: sine or square, signal to noise ratio from 20 dB up."""
    count = int(10 ** rng.uniform(3, 4.7))
    interval = 10 ** rng.uniform(-9, -3.5)
    period = math.exp(rng.uniform(math.log(20), math.log(count / 4)))
    low, swing = rng.uniform(-5, 5), 10 ** rng.uniform(-1, 1)
    sine = rng.random() < 0.3
    clean, truth = (_sine if sine else _square)(rng, np.arange(count, dtype=float), period, low, swing)
    noise = swing * 10 ** rng.uniform(-2.7, -1.45 if sine else -1.31)
    scope = Scope(0.0, 0.0, 0.0) if rng.random() < 0.5 else Scope()
    errors = rng.normal(size=3)
    reach = max(abs(low), abs(low + swing), swing)
    values = clean * (1 + scope.gain * errors[0]) + scope.offset * reach * errors[1] + rng.normal(0, noise, count)
    step = rng.choice([0.0, swing / 60, swing / 180, swing / 3000])
    if step:
        values = np.round(values / step) * step
    told = interval * (1 + scope.time_base * errors[2])
    truth["frequency"] = 1 / (period * interval)
    for key in ("rise", "fall", "high_time"):
        if key in truth:
            truth[key] *= interval
    return Made(Waveform("CH1", values, told), scope, truth)


def _sine(
    rng: np.random.Generator, n: Floats, period: float, low: float, swing: float
) -> tuple[Floats, dict[str, float]]:
    clean = low + swing / 2 * (1 + np.sin(2 * np.pi * n / period + rng.uniform(0, 7)))
    return clean, {"amplitude": swing / 2}


def _square(
    rng: np.random.Generator, n: Floats, period: float, low: float, swing: float
) -> tuple[Floats, dict[str, float]]:
    duty = rng.uniform(0.25, 0.75)
    most = min(duty, 1 - duty) * period / 4
    rise, fall = (math.exp(rng.uniform(math.log(min(2.5, most)), math.log(most))) for _ in range(2))
    shape = str(rng.choice(SHAPES))
    clean = low + swing * square(n, period, duty, rise, fall, rng.uniform(0, period), shape)
    truth = {"low": low, "high": low + swing, "swing": swing, "rise": rise, "fall": fall, "duty": duty,
             "high_time": duty * period}  # fmt: skip
    return clean, truth
