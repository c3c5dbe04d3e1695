"""Timing results: frequency, period, duty and jitter, from edges or from a sine fit."""

from __future__ import annotations

import math

import numpy as np

from kilter.signals.analysis import Findings
from kilter.signals.edge_line import EdgeLine, edge_line
from kilter.signals.edges import Edges, find_edges
from kilter.signals.levels import Levels
from kilter.signals.noise import Spread
from kilter.signals.scope import Scope
from kilter.signals.settings import setting
from kilter.signals.sine_fit import SineFit
from kilter.signals.waveform import Floats, Waveform

KEYS = ("frequency", "period", "high_time", "duty", "jitter")


def edge_timing(
    wave: Waveform,
    edges: Edges,
    line: EdgeLine | None,
    count: int,
    scope: Scope,
    found: Findings,
    later: float = 0.0,
    later_uncertainty: float = 0.0,
) -> None:
    """
    Tells frequency, period, duty and jitter from edges.

    Args:
        wave: The waveform.
        edges: Its edges.
        line: Their regression.
        count: Samples of the record.
        scope: The instrument.
        found: Where results go.
        later: How much later than its own time a falling edge is half-way, less the same of a rising one. [samples]
        later_uncertainty: Its standard uncertainty. [samples]
    """
    cycles = count / line.period if line else 0.0
    if line is None or cycles < setting("fewest_cycles") or line.edges < 3:
        told = f"{len(edges)} edges" if len(edges) != 1 else "one edge"
        found.lack(f"the record is too short: {told}, fewer than {setting('fewest_cycles'):g} cycles", *KEYS)
        return
    if line.jitter > setting("not_periodic") * line.period or line.left_out > 0.2 * (line.edges + line.left_out):
        found.lack(f"not periodic: edges scatter by {100 * line.jitter / line.period:.0f} % of the period", *KEYS)
        return
    _doubts(line, found)
    if math.isfinite(line.high_time):
        share = (line.high_time + later) / line.period
        unsure = max(line.high_uncertainty, later_uncertainty)
        found.tell("duty", share - math.floor(share), "", unsure / line.period)
    else:
        found.lack("edges of one direction only", "duty", "high_time")
    if wave.interval is None:
        found.lack("the sample interval is not known", *KEYS)
        return
    _tell_times(wave, line, scope, found)


def _tell_times(wave: Waveform, line: EdgeLine, scope: Scope, found: Findings) -> None:
    interval = wave.interval or math.nan
    _tell_rate(wave, line.period, line.period_uncertainty, scope, found)
    if "duty" in found.results:
        high = found.results["duty"].value * line.period * interval
        own = found.results["duty"].uncertainty * line.period * interval
        found.tell("high_time", high, "s", scope.of_time(high, own, wave.interval_uncertainty))
    unsure = line.jitter / math.sqrt(2 * max(line.edges - 3, 1))
    if line.edges > 4:
        found.tell("jitter", line.jitter * interval, "s", unsure * interval)
    else:
        found.lack("too few edges", "jitter")


def _tell_rate(wave: Waveform, period: float, unsure: float, scope: Scope, found: Findings) -> None:
    """Period and frequency; period in samples."""
    interval = wave.interval or math.nan
    time = period * interval
    doubt = scope.of_time(time, unsure * interval, wave.interval_uncertainty)
    found.tell("period", time, "s", doubt)
    found.tell("frequency", 1 / time, "Hz", doubt / time**2)
    if period < setting("alias_samples"):
        found.doubt(
            f"Aliasing suspected: {period:.1f} samples in a cycle. The true frequency may be another; sample faster."
        )


def _doubts(line: EdgeLine, found: Findings) -> None:
    if line.left_out:
        found.doubt(f"{line.left_out} of {line.edges + line.left_out} edges lie far from the regular ones; left out.")
    if line.skipped:
        found.doubt(f"{line.skipped} cycles have no edge: the signal pauses, or edges are too small.")
    if line.wander > 0.5:
        found.doubt("The edges wander slowly about the regular ones: a drifting or modulated clock.")


def sine_timing(wave: Waveform, values: Floats, sine: SineFit, spread: Spread, scope: Scope, found: Findings) -> None:
    """Tells frequency, period and amplitude of a sine."""
    cycles = sine.frequency * len(values)
    own = math.hypot(sine.amplitude_uncertainty, spread.step / math.sqrt(12) / max(math.sqrt(len(values)), 1))
    found.tell("amplitude", sine.amplitude, wave.unit, scope.of_difference(sine.amplitude, own))
    found.lack("a sine has no states", "duty", "high_time", "jitter")
    if cycles < setting("fewest_cycles") or not sine.converged:
        why = f"the record is too short: {cycles:.1f} cycles" if sine.converged else "the sine fit did not settle"
        found.lack(why, "frequency", "period")
    elif wave.interval is None:
        found.lack("the sample interval is not known", "frequency", "period")
    else:
        left = math.sqrt(max(sine.residual**2 - 1.21 * spread.noise**2, 0.0))
        leak = sine.frequency * left / max(sine.amplitude, 1e-300) / (math.pi * cycles**2)
        unsure = math.hypot(sine.frequency_uncertainty, leak)
        _tell_rate(wave, 1 / sine.frequency, unsure / sine.frequency**2, scope, found)
        _doubt_distortion(sine, left, found)


def _doubt_distortion(sine: SineFit, left: float, found: Findings) -> None:
    share = left * math.sqrt(2) / max(sine.amplitude, 1e-300)
    if share > 0.05:
        found.doubt(f"Beside the sine {100 * share:.0f} % of its size is left: distortion or another signal.")


def timing_results(
    wave: Waveform, values: Floats, spread: Spread, levels: Levels, sine: SineFit, scope: Scope, found: Findings
) -> EdgeLine | None:
    """Tells the timing of a waveform that is neither a sine nor two states, where it passes its middle regularly."""
    swing = min(levels.swing, 2.8 * spread.rms) or spread.swing
    middle = spread.mean
    band = max(setting("hysteresis") * swing, setting("hysteresis_noise") * spread.noise)
    if band > 0.45 * swing:
        found.lack("the noise is too large against the swing", *KEYS)
        return None
    edges = find_edges(values, middle - swing / 2, middle + swing / 2, band)
    line = edge_line(edges)
    edge_timing(wave, edges, line, len(values), scope, found)
    for key in ("duty", "high_time"):
        found.results.pop(key, None)
        found.lack("the waveform does not rest at two levels", key)
    if "frequency" in found.results and wave.interval is not None:
        _compare(found, sine, wave.interval)
    return line


def _compare(found: Findings, sine: SineFit, interval: float) -> None:
    """Says so where the strongest line is no multiple of the rate of the edges."""
    ratio = sine.frequency / interval / found.results["frequency"].value
    if abs(ratio - np.round(ratio)) > 0.02 * max(ratio, 1.0) or ratio < 0.5:
        found.doubt(
            f"Two rates disagree: edges tell {found.results['frequency'].value:.6g} Hz, the strongest line "
            f"{sine.frequency / interval:.6g} Hz."
        )
