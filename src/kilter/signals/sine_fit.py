"""Sine fits with three and four parameters (IEEE Std 1057), block by block in constant memory."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from kilter.signals.waveform import Floats

BLOCK = 4096
"""Samples whose sines come from one table."""
ROUNDS = 12
SETTLED = 1e-13
"""Relative change of frequency at which the fit rests."""
NEAR = 1e-3
"""Change, in standard uncertainties, at which it rests as well: the next step would be far smaller still."""


@dataclass(frozen=True, slots=True)
class SineFit:
    """
    A + offset and amplitude of a sine, fitted by least squares.

    Args:
        frequency: Cycles per sample.
        frequency_uncertainty: Standard uncertainty from what is left; 0 where the frequency was given.
        amplitude: Peak. [unit of the record]
        amplitude_uncertainty: Likewise.
        phase: Of the cosine at the middle of the record. [rad]
        offset: [unit of the record]
        residual: RMS of what is left. [unit of the record]
        converged: Whether the frequency came to rest.
    """

    frequency: float
    frequency_uncertainty: float
    amplitude: float
    amplitude_uncertainty: float
    phase: float
    offset: float
    residual: float
    converged: bool = True


def three_parameter_fit(values: Floats, frequency: float) -> SineFit:
    """
    Amplitude, phase and offset at a known frequency.

    Args:
        values: Without gaps.
        frequency: Cycles per sample, between 0 and 1/2.

    >>> n = np.arange(1000)
    >>> fit = three_parameter_fit(2 + 3 * np.cos(2 * np.pi * 0.01 * n), 0.01)
    >>> round(fit.amplitude, 9), round(fit.offset, 9)
    (3.0, 2.0)
    """
    gram, right, square = _sums(values, frequency, 0.0, 0.0)
    return _result(values, frequency, gram[:3, :3], right[:3], square)


def four_parameter_fit(values: Floats, frequency: float) -> SineFit:
    """
    All four parameters by Gauss-Newton steps from a frequency near the right one, within about half a cycle a record.

    Args:
        values: Without gaps.
        frequency: Seed. [cycles per sample]

    Source: IEEE Std 1057, four-parameter least-squares fit (from memory, clause not seen); its variance is compared
        with the Cramer-Rao bound in the tests.
    """
    fit = SineFit(frequency, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    for count in _stages(len(values)):
        fit = _gauss_newton(values[:count], fit.frequency)
    return fit


def _stages(count: int) -> list[int]:
    """Lengths of the record's head that bring the frequency near enough for the next."""
    stages = [count]
    while stages[0] > 1 << 17:
        stages.insert(0, stages[0] // 8)
    return stages


def _gauss_newton(values: Floats, frequency: float) -> SineFit:
    count = len(values)
    gram, right, square = _sums(values, frequency, 0.0, 0.0)
    theta = np.append(np.linalg.lstsq(gram[:3, :3], right[:3], rcond=None)[0], 0.0)
    for _ in range(ROUNDS):
        gram, right, square = _sums(values, frequency, float(theta[0]), float(theta[1]))
        theta = np.linalg.lstsq(gram, right, rcond=None)[0]
        change = float(np.clip(theta[3], -math.pi / count, math.pi / count)) / (2 * math.pi)
        frequency = float(np.clip(frequency + change, 0.01 / count, 0.5))
        fit = _result(values, frequency, gram, right, square)
        if abs(change) <= max(SETTLED * frequency, NEAR * fit.frequency_uncertainty):
            return fit
    return replace(fit, converged=False)


def _result(values: Floats, frequency: float, gram: Floats, right: Floats, square: float) -> SineFit:
    theta = np.linalg.lstsq(gram, right, rcond=None)[0]
    left = max(square - float(right @ theta), 0.0)
    variance = left / max(len(values) - len(theta), 1)
    covariance = np.linalg.pinv(gram) * variance
    cosine, sine = float(theta[0]), float(theta[1])
    amplitude = math.hypot(cosine, sine)
    toward = np.array([cosine, sine]) / (amplitude or 1.0)
    spread = float(toward @ covariance[:2, :2] @ toward)
    turn = math.sqrt(max(covariance[3, 3], 0.0)) / (2 * math.pi) if len(theta) == 4 else 0.0
    offset = float(theta[2]) + _reference(values)
    return SineFit(frequency, turn, amplitude, math.sqrt(max(spread, 0.0)), math.atan2(-sine, cosine), offset,
                   math.sqrt(left / len(values)))  # fmt: skip


def _reference(values: Floats) -> float:
    """A level near the mean that is taken off first, so that large offsets cost no digits."""
    return float(values[:BLOCK].mean())


def _sums(values: Floats, frequency: float, cosine: float, sine: float) -> tuple[Floats, Floats, float]:
    """
    Normal equations of [cos wt, sin wt, 1, t (-A sin wt + B cos wt)], t from the middle of the record.

    Within a block all sines come from one table; a block's own sums are turned by its phase.
    """
    omega = 2 * math.pi * frequency
    whole = len(values) // BLOCK
    gram, right, square = np.zeros((4, 4)), np.zeros(4), 0.0
    reference = _reference(values)
    middle = (len(values) - 1) / 2
    for start, stop, wide in ((0, whole * BLOCK, BLOCK), (whole * BLOCK, len(values), len(values) - whole * BLOCK)):
        if stop == start:
            continue
        blocks = values[start:stop].reshape(-1, wide)
        table = _table(omega, wide)
        raw = blocks @ table - reference * table.sum(axis=0)
        times: Floats = start + wide * np.arange(len(blocks), dtype=np.float64) + (wide - 1) / 2 - middle
        turns = _turns(omega * times, times, cosine, sine)
        gram += np.einsum("bij,ik,bkl->jl", turns, table.T @ table, turns, optimize=True)
        right += np.einsum("bij,bi->j", turns, raw)
        for some in range(0, len(blocks), 64):
            square += float(np.square(blocks[some : some + 64] - reference).sum())
    return gram, right, square


def _table(omega: float, wide: int) -> Floats:
    """cos, sin, 1, t cos, t sin over one block, t from its middle; shape (wide, 5)."""
    t = np.arange(wide) - (wide - 1) / 2
    c, s = np.cos(omega * t), np.sin(omega * t)
    return np.stack([c, s, np.ones(wide), t * c, t * s], axis=1)


def _turns(phases: Floats, times: Floats, a: float, b: float) -> Floats:
    """How the four columns of each block follow from the table; shape (n_blocks, 5, 4)."""
    c, s = np.cos(phases), np.sin(phases)
    turns = np.zeros((len(phases), 5, 4))
    turns[:, 0, 0], turns[:, 1, 0] = c, -s
    turns[:, 0, 1], turns[:, 1, 1] = s, c
    turns[:, 2, 2] = 1.0
    in_cos, in_sin = b * c - a * s, -(a * c + b * s)
    turns[:, 0, 3], turns[:, 1, 3] = times * in_cos, times * in_sin
    turns[:, 3, 3], turns[:, 4, 3] = in_cos, in_sin
    return turns
