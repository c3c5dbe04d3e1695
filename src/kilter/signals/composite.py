"""Composite video: sync and picture levels, line timing, burst and fields, beside the nearest system's figures."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput
from kilter.measure.measured import Measured
from kilter.measure.tables import table
from kilter.signals.edge_line import edge_line
from kilter.signals.edges import Edges, find_edges
from kilter.signals.noise import longest_whole, noise_of
from kilter.signals.scope import Scope
from kilter.signals.sine_fit import three_parameter_fit
from kilter.signals.waveform import Floats, Waveform

KEYS = {
    "line_rate": "line rate", "sync": "sync width", "sync_level": "sync depth",
    "white": "highest picture level above blanking",
    "burst": "burst, peak to peak", "subcarrier": "subcarrier of the burst",
    "field": "field rate", "lines": "lines in a field",
}  # fmt: skip
"""Results in the order they are told, in words."""


@dataclass(frozen=True)
class Composite:
    """
    What a composite signal tells.

    Args:
        system: Key of the nearest system in data/composite_video.toml.
        results: By key of KEYS; the same keys are in the data.
        missing: Why a result is not told.
        remarks: What stands out, as possible causes, never as a verdict.
    """

    system: str
    results: Mapping[str, Measured]
    missing: Mapping[str, str]
    remarks: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Syncs:
    """Leading edges and widths of all low pulses [samples], which of them are line syncs, and two levels."""

    falls: Floats
    widths: Floats
    regular: NDArray[np.bool_]
    tip: float
    blank: float
    edges: Edges


def systems() -> dict[str, dict[str, float]]:
    """The systems' figures by key."""
    found: dict[str, dict[str, float]] = table("composite_video")["systems"]
    return found


def composite(wave: Waveform, scope: Scope | None = None) -> Composite:
    """
    Sync, burst and picture levels and the line timing.

    Args:
        wave: At 75 ohm, a few lines or more.
        scope: The instrument; an ordinary one where none is given.

    Raises:
        BadInput: No regular sync pulses, or the sample interval is not known.
    """
    scope = scope or Scope()
    values = wave.values[longest_whole(wave.values)]
    if wave.interval is None:
        raise _refused(wave, "no sample interval", "a record with its times", "Give the sample interval.")
    syncs = _syncs(wave, values, wave.interval)
    results: dict[str, Measured] = {}
    missing: dict[str, str] = {}
    _tell_line(wave, syncs, scope, results)
    system = min(systems(), key=lambda key: abs(systems()[key]["line_rate"] - results["line_rate"].value))
    _tell_levels(wave, values, syncs, scope, results)
    _tell_burst(wave, values, syncs, scope, results, missing)
    _tell_field(syncs, results, missing)
    return Composite(system, results, missing, tuple(_remarks(results, systems()[system])))


def _refused(wave: Waveform, found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput(f"Cannot read channel {wave.name} as composite video", found, allowed, do_next)


def _limit(key: str) -> float:
    return float(table("composite_video")["limits"][key])


def _syncs(wave: Waveform, values: Floats, interval: float) -> _Syncs:
    bottom, top = (float(one) for one in np.percentile(values[:: max(1, len(values) >> 20)], (0.5, 99.5)))
    tip, blank = bottom, bottom + 0.3 * (top - bottom)
    found = _pulses(wave, values, tip, blank)
    for _ in range(2):
        tip, blank = _two_levels(values, found, interval)
        if blank - tip <= 4 * noise_of(values, 0.0):
            raise _refused(wave, "no step between sync and blanking", "composite video with its sync",
                           "Check that the probe is on the composite output.")  # fmt: skip
        found = _pulses(wave, values, tip, blank)
    if found.regular.sum() < _limit("fewest_lines"):
        raise _refused(wave, f"{int(found.regular.sum())} line syncs", f"{_limit('fewest_lines'):g} or more",
                       "Capture more lines.")  # fmt: skip
    return found


def _pulses(wave: Waveform, values: Floats, tip: float, blank: float) -> _Syncs:
    band = max(0.25 * (blank - tip), 1e-12)
    edges = find_edges(values, tip, blank, band)
    start = int(np.argmin(edges.rising)) if len(edges) else 0
    falls, rises = edges.times[start:][~edges.rising[start:]], edges.times[start:][edges.rising[start:]]
    count = min(len(falls), len(rises))
    if count < 2:
        raise _refused(wave, f"{count} sync pulses", f"{_limit('fewest_lines'):g} or more", "Capture more lines.")
    falls, widths = falls[:count], rises[:count] - falls[:count]
    usual = float(np.median(widths))
    regular = np.abs(widths / usual - 1) < _limit("width_band")
    return _Syncs(falls, widths, regular, tip, blank, edges)


def _two_levels(values: Floats, found: _Syncs, interval: float) -> tuple[float, float]:
    """Tip from the middle of the pulses, blanking from the front porch before them."""
    falls, widths = found.falls[found.regular], found.widths[found.regular]
    middle = _around(values, falls + 0.5 * widths, 0.25 * float(np.median(widths)))
    porch = _around(values, falls - 0.75e-6 / interval, 0.35e-6 / interval)
    return float(np.median(middle)), float(np.median(porch))


def _around(values: Floats, centres: Floats, half: float) -> Floats:
    offsets = np.arange(-max(1, int(half)), max(1, int(half)) + 1)
    index = np.round(centres[:, None]).astype(np.int64) + offsets
    found: Floats = values[np.clip(index, 0, len(values) - 1)].ravel()
    return found


def _tell_line(wave: Waveform, syncs: _Syncs, scope: Scope, results: dict[str, Measured]) -> None:
    interval = wave.interval or math.nan
    times = syncs.falls[syncs.regular]
    line = edge_line(Edges(times, np.zeros(len(times), dtype=bool), syncs.edges.width))
    if line is None or line.jitter > 0.05 * line.period:
        raise _refused(wave, "low pulses that do not come regularly", "line syncs in even steps",
                       "Check the signal and the probe.")  # fmt: skip
    period = line.period * interval
    own = scope.of_time(period, line.period_uncertainty * interval, wave.interval_uncertainty)
    results["line_rate"] = Measured(1 / period, "Hz", own / period**2)
    widths = syncs.widths[syncs.regular] * interval
    spread = math.hypot(float(widths.std()) / math.sqrt(len(widths)), 0.05 * interval)
    results["sync"] = Measured(float(widths.mean()), "s", scope.of_time(float(widths.mean()), spread, 0.0))


def _tell_levels(wave: Waveform, values: Floats, syncs: _Syncs, scope: Scope, results: dict[str, Measured]) -> None:
    noise = noise_of(values, 0.0)
    depth = syncs.blank - syncs.tip
    rough = noise / math.sqrt(max(len(syncs.falls), 1))
    results["sync_level"] = Measured(depth, wave.unit, scope.of_difference(depth, rough))
    white = float(np.percentile(values[:: max(1, len(values) >> 20)], 99.8)) - syncs.blank
    results["white"] = Measured(white, wave.unit, scope.of_difference(white, noise))


def _tell_burst(
    wave: Waveform, values: Floats, syncs: _Syncs, scope: Scope, results: dict[str, Measured], missing: dict[str, str]
) -> None:
    """The stronger of the two subcarriers in the window behind the sync, amplitude by a sine fit on each line."""
    interval = wave.interval or math.nan
    if interval > 1 / (4 * max(one["subcarrier"] for one in systems().values())):
        missing["burst"] = missing["subcarrier"] = "too few samples in a cycle of the subcarrier"
        return
    sizes = {key: _burst_size(values, syncs.falls[syncs.regular], interval, one) for key, one in systems().items()}
    best = max(sizes, key=lambda key: sizes[key][0])
    size, unsure = sizes[best]
    if size < max(_limit("least_burst"), 5 * unsure):
        missing["burst"] = missing["subcarrier"] = f"no burst above {max(_limit('least_burst'), 5 * unsure):.2g} V"
        return
    results["burst"] = Measured(size, wave.unit, scope.of_difference(size, unsure))
    window = 8 / systems()[best]["subcarrier"]
    results["subcarrier"] = Measured(systems()[best]["subcarrier"], "Hz", 0.1 / window)


def _burst_size(values: Floats, falls: Floats, interval: float, one: Mapping[str, float]) -> tuple[float, float]:
    """Peak to peak of the middle eight cycles, median over lines, and its standard uncertainty."""
    start = one["burst_start"] + 0.5 / one["subcarrier"]
    first, count = start / interval, int(8 / one["subcarrier"] / interval)
    fits = [
        three_parameter_fit(values[at : at + count], one["subcarrier"] * interval)
        for at in (int(fall + first) for fall in falls[:400])
        if at + count < len(values)
    ]
    if not fits:
        return 0.0, math.inf
    sizes = np.array([2 * fit.amplitude for fit in fits])
    alone = 2 * float(np.median([fit.amplitude_uncertainty for fit in fits]))
    return float(np.median(sizes)), 1.2533 * max(float(sizes.std()), alone) / math.sqrt(len(sizes))


def _tell_field(syncs: _Syncs, results: dict[str, Measured], missing: dict[str, str]) -> None:
    """Fields from groups of broad pulses; lines in a field from the line rate."""
    whole = syncs.falls > syncs.falls[syncs.regular][0]  # a group that the record's start cuts has no beginning
    broad = syncs.falls[whole & (syncs.widths > _limit("broad") * float(np.median(syncs.widths[syncs.regular])))]
    line = float(np.median(np.diff(syncs.falls[syncs.regular])))
    starts = broad[np.concatenate(([True], np.diff(broad) > 20 * line))] if len(broad) else broad
    if len(starts) < 2:
        missing["field"] = missing["lines"] = "fewer than two vertical syncs in the record"
        return
    field = float(np.diff(starts).mean()) / line
    results["lines"] = Measured(field, "", 0.02)
    rate = results["line_rate"]
    results["field"] = Measured(
        rate.value / field, "Hz", math.hypot(rate.uncertainty / field, 0.02 * rate.value / field**2)
    )


def _remarks(results: Mapping[str, Measured], system: Mapping[str, float]) -> list[str]:
    """Possible causes of levels that are far from the system's."""
    ratio = results["sync_level"].value / system["sync_level"]
    remarks = []
    if 1.7 < ratio < 2.4:
        remarks.append("Sync is about double: the 75 ohm termination may be missing.")
    elif 0.4 < ratio < 0.7:
        remarks.append("Sync is about half: there may be two terminations, or a weak driver.")
    elif not 0.8 < ratio < 1.25:
        remarks.append(f"Sync is {ratio:.2f} times the broadcast level: check probe ratio, coupling and termination.")
    if results["white"].value > 1.2 * system["white"] * ratio:
        remarks.append("The picture level is high against the sync.")
    return remarks
