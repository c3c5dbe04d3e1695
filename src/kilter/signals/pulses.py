"""Results of a waveform with two states: levels, transitions, overshoot and the timing of its edges."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kilter.measure.measured import engineering
from kilter.signals.analysis import Findings
from kilter.signals.edge_line import EdgeLine, edge_line
from kilter.signals.edges import Edges, find_edges
from kilter.signals.levels import Levels, settled_levels
from kilter.signals.noise import Spread
from kilter.signals.scope import Scope
from kilter.signals.settings import setting
from kilter.signals.timing import edge_timing
from kilter.signals.transitions import Transition, mean_transition, refined_times
from kilter.signals.waveform import Floats, Waveform

ENOUGH = 24
"""Edges of one direction from which their mean shape sharpens their times."""
Shapes = dict[bool, Transition | None]
"""The mean transitions: True rising, False falling."""
STEADY_EDGES = 0.06
"""Scatter about the line, as share of the edge's width, up to which edges are laid over one another by the line."""


def pulse_results(
    wave: Waveform, values: Floats, spread: Spread, levels: Levels, scope: Scope, found: Findings
) -> tuple[Levels, Edges, EdgeLine | None]:
    """Levels from settled samples, edges and their line; tells what follows from them."""
    edges = find_edges(values, levels.low, levels.high, half_band(levels, spread))
    rough = _shapes(values, edges, None, levels, spread)
    levels = settled_levels(values, levels, _settled(values, edges, levels, rough), spread)
    _tell_levels(wave, spread, levels, scope, found)
    edges, line, shapes = _sharpened(values, edges, levels, spread)
    for up, key in ((True, "rise"), (False, "fall")):
        _tell_transition(wave, shapes[up], scope, found, key)
    _tell_excursions(wave, shapes, found)
    edge_timing(wave, edges, line, len(values), scope, found, *_halves(shapes))
    return levels, edges, line


def half_band(levels: Levels, spread: Spread) -> float:
    """Half-width of the band about the middle that an edge must cross. [unit of the record]"""
    return max(
        setting("hysteresis") * levels.swing, min(setting("hysteresis_noise") * spread.noise, 0.4 * levels.swing)
    )


def _settled(values: Floats, edges: Edges, levels: Levels, shapes: Shapes) -> NDArray[np.int8]:
    """For each sample the state it rests in, as -1, -2, 1 or 2 (later half of a stay), and 0 near an edge."""
    count = len(values)
    first = values[0] > levels.at(0.5) if len(edges) == 0 else not edges.rising[0]
    signs = np.concatenate(([1 if first else -1], np.where(edges.rising, 1, -1)))
    start = np.concatenate(([0.0], edges.times))
    stop = np.concatenate((edges.times, [float(count)]))
    stay = stop - start
    wide = max(
        (one.duration for one in shapes.values() if one and math.isfinite(one.duration)), default=5.0 * edges.width
    )
    begin = start + np.minimum(setting("guard_after") * wide + 1, 0.6 * stay)
    end = stop - np.minimum(setting("guard_before") * wide + 1, 0.35 * stay)
    begin[0], end[-1] = (0.0 if len(edges) == 0 else begin[0]), float(count) if len(edges) == 0 else end[-1]
    state = np.zeros(count, dtype=np.int8)
    marks = np.zeros(count + 1, dtype=np.int8)
    half = (begin + end) / 2
    for mark, change in ((begin, signs), (half, signs), (end, -2 * signs)):
        np.add.at(marks, np.clip(np.ceil(mark), 0, count).astype(np.int64), change.astype(np.int8))
    np.cumsum(marks[:-1], out=state)
    return state


def _tell_levels(wave: Waveform, spread: Spread, levels: Levels, scope: Scope, found: Findings) -> None:
    reach = max(abs(spread.low), abs(spread.high), spread.swing)
    found.tell("low", levels.low, wave.unit, scope.of_level(levels.low, reach, levels.low_uncertainty))
    found.tell("high", levels.high, wave.unit, scope.of_level(levels.high, reach, levels.high_uncertainty))
    own = math.hypot(levels.low_uncertainty, levels.high_uncertainty)
    found.tell("swing", levels.swing, wave.unit, scope.of_difference(levels.swing, own))


def _sharpened(values: Floats, edges: Edges, levels: Levels, spread: Spread) -> tuple[Edges, EdgeLine | None, Shapes]:
    """Edge times matched to the mean transitions where there are enough edges, their line, and the transitions."""
    line = edge_line(edges)
    shapes = _shapes(values, edges, line, levels, spread)
    times = edges.times.copy()
    start = _aligned(edges, line)[0]
    for up, shape in shapes.items():
        if shape is not None and shape.edges >= ENOUGH:
            times[edges.rising == up] = refined_times(values, start, shape, levels, rising=up)
    if np.all(np.diff(times) > 0):
        edges = replace(edges, times=times)
        line = edge_line(edges)
        shapes = _shapes(values, edges, line, levels, spread)
    return edges, line, shapes


def _shapes(values: Floats, edges: Edges, line: EdgeLine | None, levels: Levels, spread: Spread) -> Shapes:
    room = 0.9 * float(np.min(np.diff(edges.times))) if len(edges) > 1 else float(len(values))
    aligned, shift = _aligned(edges, line)
    if shift is None:
        shift = spread.noise / levels.swing * math.sqrt(max(edges.width, 1))
    return {
        up: mean_transition(values, aligned, levels, spread.noise, rising=up, room=room, shift=shift)
        for up in (True, False)
    }


def _aligned(edges: Edges, line: EdgeLine | None) -> tuple[Edges, float | None]:
    """
    Edges at the times of their line where they keep to it: their own times carry the noise of the same samples, which
    would bend the mean transition. Also how much they scatter about those times, None where own times are kept.
    """
    steady = line is not None and line.edges >= ENOUGH and line.left_out == 0
    if line is None or not steady or line.jitter > STEADY_EDGES * max(edges.width, 1):
        return edges, None
    return replace(edges, times=edges.times - line.residual), line.jitter


def _halves(shapes: Shapes) -> tuple[float, float]:
    """How much later than its own time a falling edge is half-way, less the same of a rising edge. [samples]"""
    rise, fall = shapes[True], shapes[False]
    if rise is None or fall is None:
        return 0.0, 0.0
    return fall.half - rise.half, math.hypot(rise.half_uncertainty, fall.half_uncertainty)


def _tell_transition(wave: Waveform, shape: Transition | None, scope: Scope, found: Findings, key: str) -> None:
    if shape is None:
        found.lack("no such edge stands whole in the record", key)
    elif wave.interval is None:
        found.lack("the sample interval is not known", key)
    elif not math.isfinite(shape.duration):
        found.lack("the edges do not pass from 10 to 90 % between their neighbours", key)
    elif shape.duration < setting("fewest_edge_samples"):
        most = engineering(setting("fewest_edge_samples") * wave.interval, "s")
        found.lack(f"shorter than two samples, that is below {most}: sample faster", key)
    else:
        own = shape.duration_uncertainty * wave.interval
        time = shape.duration * wave.interval
        found.tell(key, time, "s", scope.of_time(time, own, wave.interval_uncertainty))


def _tell_excursions(wave: Waveform, shapes: Shapes, found: Findings) -> None:
    known = [shape for shape in shapes.values() if shape is not None]
    if not known:
        found.lack("no edge stands whole in the record", "overshoot", "undershoot")
        return
    for key in ("overshoot", "undershoot"):
        worst = max(known, key=lambda shape: float(getattr(shape, key)))
        found.tell(key, getattr(worst, key), "", worst.excursion_uncertainty)
    if wave.unit == "":
        found.doubt("Without a voltage scale the levels are shares of full scale.")
