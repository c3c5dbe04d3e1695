"""Analyse a waveform: sizes, state levels, transitions, timing and ripple."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from kilter.measure.errors import BadInput
from kilter.signals.analysis import OTHER, SINE, STATES, STEADY, Analysis, Findings
from kilter.signals.levels import Levels, state_levels
from kilter.signals.noise import Spread, clipped, longest_whole, spread_of
from kilter.signals.pulses import pulse_results
from kilter.signals.ripple import ripple_results
from kilter.signals.scope import Scope
from kilter.signals.settings import setting
from kilter.signals.sine_fit import SineFit, four_parameter_fit
from kilter.signals.spectrum import strongest_line
from kilter.signals.timing import sine_timing, timing_results
from kilter.signals.waveform import Floats, Waveform

LEAST = 16
"""Samples."""
STEADY_FROM = 32
"""Samples from which a sine can be told from noise."""
TIMES = ("frequency", "period", "high_time", "duty", "jitter", "rise", "fall")
STATE_KEYS = ("low", "high", "swing", "rise", "fall", "overshoot", "undershoot")


def analyse(wave: Waveform, scope: Scope | None = None) -> Analysis:
    """
    What a waveform tells.

    Args:
        wave: Any waveform with 16 samples or more in one piece.
        scope: The instrument; an ordinary oscilloscope where none is given.

    Raises:
        BadInput: Too few samples.
    """
    scope = scope or Scope()
    found = Findings(doubts=list(wave.warnings))
    whole = longest_whole(wave.values)
    values = wave.values[whole]
    if len(values) < LEAST:
        raise BadInput(f"Cannot analyse the channel {wave.name}", f"{len(values)} samples in one piece",
                       f"{LEAST} or more", "Export a longer record.")  # fmt: skip
    if len(values) < len(wave.values):
        found.doubt(f"Only the longest piece without gaps is used: {len(values)} of {len(wave.values)} samples.")
    spread = spread_of(values)
    _sizes(wave, spread, scope, found)
    sine = _sine(values, strongest_line(values))
    if is_steady(spread, sine):
        return _steady(wave, values, spread, scope, found, whole.start)
    return _moving(wave, values, spread, sine, scope, found, whole.start)


def is_steady(spread: Spread, sine: SineFit) -> bool:
    """
    Whether a record is no more than a level with noise.

    A fast sine of few samples in a cycle looks like noise to neighbours; where the best sine takes more of the variance
    than chance would, the record is not steady.
    """
    if spread.swing <= max(1.01 * spread.step, 1e-12 * abs(spread.mean)):
        return True
    grown = setting("steady_swing") + max(0.0, math.log10(spread.count) - 4)
    chance = max(setting("steady_sine"), 4 * math.log(spread.count) / spread.count)
    of_sine = 1 - (sine.residual / spread.rms) ** 2
    return spread.swing <= grown * spread.noise and (of_sine <= chance or spread.count < STEADY_FROM)


def _sizes(wave: Waveform, spread: Spread, scope: Scope, found: Findings) -> None:
    reach = max(abs(spread.low), abs(spread.high), spread.swing)
    own = max(spread.rms / math.sqrt(spread.count), spread.step / math.sqrt(12 * spread.count))
    found.tell("mean", spread.mean, wave.unit, scope.of_level(spread.mean, reach, own))
    peaks = math.hypot(spread.noise, spread.step / math.sqrt(6))
    found.tell("peak_to_peak", spread.swing, wave.unit, scope.of_difference(spread.swing, peaks))
    rough = spread.rms / math.sqrt(2 * spread.count)
    found.tell("rms_ac", spread.rms, wave.unit, scope.of_difference(spread.rms, rough))
    _tell_noise(wave, spread, scope, found)


def _tell_noise(wave: Waveform, spread: Spread, scope: Scope, found: Findings) -> None:
    found.tell("noise", spread.noise, wave.unit, scope.of_difference(spread.noise, 0.1 * spread.noise))


def _doubt_clipping(values: Floats, spread: Spread, kind: str, found: Findings) -> None:
    for share, where in zip(clipped(values, spread, two_states=kind == STATES), ("least", "greatest"), strict=True):
        if share:
            found.doubt(
                f"Clipping suspected: {100 * share:.1f} % of the samples stand in flat runs at the {where} value; "
                "sizes may be larger than told."
            )


def _steady(wave: Waveform, values: Floats, spread: Spread, scope: Scope, found: Findings, first: int) -> Analysis:
    found.lack("the record is steady: nothing beyond noise", *TIMES, *STATE_KEYS, "amplitude")
    ripple_results(wave, values, spread, scope, found)
    return Analysis(wave.name, STEADY, found.results, found.missing, tuple(found.doubts), spread, first=first)


def _moving(
    wave: Waveform, values: Floats, spread: Spread, sine: SineFit, scope: Scope, found: Findings, first: int
) -> Analysis:
    if sine.residual < spread.noise:  # few samples in a cycle: the sine itself looks like noise to neighbours
        spread = replace(spread, noise=max(sine.residual, spread.step / math.sqrt(12)))
        _tell_noise(wave, spread, scope, found)
    levels = state_levels(values, spread)
    kind = _kind(levels, sine, spread, len(values))
    _doubt_clipping(values, spread, kind, found)
    edges = line = None
    if kind == STATES:
        levels, edges, line = pulse_results(wave, values, spread, levels, scope, found)
    else:
        why = "the waveform does not rest at two levels"
        if spread.noise > setting("largest_noise") * levels.swing:
            why = "the noise is too large against the swing"
        found.lack(why, *STATE_KEYS)
    if kind == SINE:
        sine = four_parameter_fit(values, sine.frequency)
        sine_timing(wave, values, sine, spread, scope, found)
    else:
        found.lack("the waveform is no sine", "amplitude")
    if kind == OTHER:
        line = timing_results(wave, values, spread, levels, sine, scope, found)
    ripple_results(wave, values, spread, scope, found)
    return Analysis(wave.name, kind, found.results, found.missing, tuple(found.doubts), spread, levels, edges, line,
                    sine if kind == SINE else None, first)  # fmt: skip


def _sine(values: Floats, seed: float) -> SineFit:
    """A sine fit to the head of the record, to see whether it is one."""
    head = values[: 1 << 17]
    if seed <= 0:
        seed = 1 / len(values)
    if seed * len(head) < 2:
        head = values
    return four_parameter_fit(head, min(max(seed, 0.5 / len(head)), 0.499))


def _kind(levels: Levels, sine: SineFit, spread: Spread, count: int) -> str:
    left = math.sqrt(max(sine.residual**2 - spread.noise**2, 0.0))
    like_sine = sine.amplitude > 0 and left * math.sqrt(2) < setting("sine_residual") * sine.amplitude
    buried = np.hypot(sine.amplitude / math.sqrt(2), sine.residual) > 0 and sine.residual < 2 * sine.amplitude
    if like_sine and sine.frequency * count >= 0.9 and not levels.share > 0.9:
        return SINE
    if levels.two_states:
        return STATES
    close = sine.residual <= 1.2 * max(spread.noise, 1e-300)
    return SINE if like_sine or (buried and close) else OTHER
