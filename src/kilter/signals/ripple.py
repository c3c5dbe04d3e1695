"""Ripple: how much of a record's movement is hum of the mains, and how much is not."""

from __future__ import annotations

import math

import numpy as np

from kilter.signals.analysis import Findings
from kilter.signals.noise import Spread
from kilter.signals.scope import Scope
from kilter.signals.settings import setting, settings
from kilter.signals.sine_fit import four_parameter_fit
from kilter.signals.spectrum import line_at
from kilter.signals.waveform import Floats, Waveform

KEYS = ("hum", "hum_frequency", "other_ripple")
MOST = 1 << 18


def ripple_results(wave: Waveform, values: Floats, spread: Spread, scope: Scope, found: Findings) -> None:
    """
    Tells the RMS of the mains lines and of the rest.

    The nominal mains frequency with the greater hum is taken and moved to where its strongest even or odd harmonic is.
    """
    if wave.interval is None:
        found.lack("the sample interval is not known", *KEYS)
        return
    some, interval = _thinned(values, wave.interval)
    cycles = len(some) * interval * min(settings("mains"))
    if cycles < setting("mains_cycles"):
        need = setting("mains_cycles") / min(settings("mains"))
        found.lack(
            f"the record is too short for hum: {1e3 * wave.duration:.3g} ms, {1e3 * need:.3g} ms are needed", *KEYS
        )
        return
    if 2 * max(settings("mains")) * interval >= 0.5:
        found.lack("samples are too far apart for hum", *KEYS)
        return
    best = max((_hum(some, interval, nominal) for nominal in settings("mains")), key=lambda one: one[0])
    power, base, unsure = best
    if power <= (3 * unsure) ** 2 or spread.rms == 0:
        found.lack(f"no mains line above the noise; hum below {3 * unsure:.2g} {wave.unit} RMS", *KEYS[:2])
        found.tell("other_ripple", spread.rms, wave.unit, scope.of_difference(spread.rms, unsure))
        return
    rms = math.sqrt(power)
    found.tell("hum", rms, wave.unit, scope.of_difference(rms, unsure))
    found.tell("hum_frequency", base, "Hz", math.hypot(base * scope.time_base, 0.1 / (len(some) * interval)))
    rest = math.sqrt(max(spread.rms**2 - power, 0.0))
    found.tell("other_ripple", rest, wave.unit, scope.of_difference(rest, unsure))


def _thinned(values: Floats, interval: float) -> tuple[Floats, float]:
    """Means of neighbours where samples are many more than hum needs; lines far below their rate stay as they are."""
    fold = max(1, len(values) // MOST)
    if fold == 1:
        return values, interval
    whole = len(values) // fold * fold
    return values[:whole].reshape(-1, fold).mean(axis=1), interval * fold


def _hum(values: Floats, interval: float, nominal: float) -> tuple[float, float, float]:
    """Power of the hum lines, the base found, and the standard uncertainty of their RMS."""
    base = _moved(values, interval, nominal)
    lines = [line_at(values, k * base * interval) for k in range(1, int(setting("mains_harmonics")) + 1)
             if k * base * interval < 0.4]  # fmt: skip
    real = [one for one in lines if one.amplitude > 3 * one.uncertainty]
    power = sum(one.amplitude**2 / 2 - one.uncertainty**2 / 2 for one in real)
    unsure = math.sqrt(sum(one.uncertainty**2 for one in real or lines) / 2)
    return max(power, 0.0), base, unsure


def _moved(values: Floats, interval: float, nominal: float) -> float:
    """The base moved from nominal to where the stronger of its first two harmonics lies, within the tolerance."""
    first, second = (line_at(values, k * nominal * interval) for k in (1, 2))
    k = 1 if first.amplitude >= second.amplitude else 2
    strongest = first if k == 1 else second
    if strongest.amplitude < 6 * strongest.uncertainty:
        return nominal
    grid = nominal * (1 + setting("mains_tolerance") * np.linspace(-1, 1, 9))
    start = max(grid, key=lambda base: line_at(values, k * base * interval).amplitude)
    fit = four_parameter_fit(values, k * float(start) * interval)
    base = fit.frequency / interval / k
    return base if abs(base / nominal - 1) <= setting("mains_tolerance") else nominal
