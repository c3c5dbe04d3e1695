"""Spectra: the strongest line, and lines at the multiples of a known rate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kilter.signals.sine_fit import SineFit, three_parameter_fit
from kilter.signals.waveform import Floats

LONGEST = 1 << 18


@dataclass(frozen=True, eq=False)
class Spectrum:
    """Amplitude spectrum: frequencies in cycles per sample and peak amplitudes of lines [unit of the record]."""

    frequencies: Floats
    amplitudes: Floats


@dataclass(frozen=True, slots=True)
class Line:
    """One line: frequency in cycles per sample, peak amplitude and its standard uncertainty [unit of the record]."""

    frequency: float
    amplitude: float
    uncertainty: float


def amplitude_spectrum(values: Floats, longest: int = LONGEST) -> Spectrum:
    """
    Spectrum with a Hann window, scaled so that a line on a bin shows its peak amplitude.

    Args:
        values: Without gaps.
        longest: Samples used at most, from the first on.
    """
    part = values[:longest]
    window = np.hanning(len(part) + 1)[:-1]
    transform = np.abs(np.fft.rfft((part - part.mean()) * window)) * 2 / window.sum()
    return Spectrum(np.fft.rfftfreq(len(part)).astype(np.float64), transform.astype(np.float64))


def strongest_line(values: Floats) -> float:
    """
    Frequency of the strongest line, in cycles per sample; 0 where there is none.

    Long records are looked at twice: their head at full rate, and the whole thinned out by means, for slow signals.
    """
    head = _peak(amplitude_spectrum(values))
    if len(values) <= LONGEST:
        return head[0]
    fold = -(-len(values) // LONGEST)
    means = np.add.reduceat(values, np.arange(0, len(values), fold)) / fold
    slow = _peak(amplitude_spectrum(means[:-1]))
    return head[0] if head[1] > 0.7 * slow[1] and head[0] * LONGEST > 3 else slow[0] / fold


def _peak(spectrum: Spectrum) -> tuple[float, float]:
    """The greatest line, its frequency found between bins by the ratio of neighbours of a Hann window."""
    found = spectrum.amplitudes
    if len(found) < 4:
        return 0.0, 0.0
    k = 1 + int(np.argmax(found[1:]))
    left, right = found[k - 1], found[k + 1] if k + 1 < len(found) else 0.0
    if found[k] <= 0:
        return 0.0, 0.0
    side, sign = (right, 1) if right > left else (left, -1)
    part = float(side / found[k])
    offset = sign * (2 * part - 1) / (part + 1)
    return float((k + min(max(offset, -0.5), 0.5)) * spectrum.frequencies[1]), float(found[k])


def line_at(values: Floats, frequency: float) -> Line:
    """The line at a known frequency, by a three-parameter fit. [cycles per sample]"""
    fit: SineFit = three_parameter_fit(values, frequency)
    return Line(frequency, fit.amplitude, fit.amplitude_uncertainty)


def lines_at(values: Floats, base: float, multiples: Sequence[int]) -> tuple[Line, ...]:
    """
    Lines at multiples of a base rate, such as the line or clock rate; those above half the sample rate are left out.

    Each is taken off before the next is sought, so that a strong one does not hide a weak one.

    Args:
        values: Without gaps.
        base: Rate. [cycles per sample]
        multiples: Which.

    >>> n = np.arange(5000)
    >>> [round(one.amplitude, 6) for one in lines_at(np.cos(2 * np.pi * 0.03 * n), 0.01, (1, 3))]
    [0.0, 1.0]
    """
    left, found = values.astype(np.float64), []
    for k in multiples:
        if 0 < base * k < 0.5:
            fit = three_parameter_fit(left, base * k)
            found.append(Line(base * k, fit.amplitude, fit.amplitude_uncertainty))
            turns = 2 * np.pi * base * k * (np.arange(len(left)) - (len(left) - 1) / 2)
            left -= fit.offset + fit.amplitude * np.cos(turns + fit.phase)
    return tuple(found)
