"""Pictures of a capture: the waveform with its levels, edges and cursors, and its spectrum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kilter.measure.errors import BadInput
from kilter.measure.measured import engineering
from kilter.signals.analysis import STATES, Analysis
from kilter.signals.envelope import envelope
from kilter.signals.spectrum import amplitude_spectrum
from kilter.signals.waveform import Floats, Waveform
from kilter.wiring.figures import require_plotting, save_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TRACE, LEVEL, EDGE, CURSOR, INK = "#0072B2", "#009E73", "#D55E00", "#CC79A7", "#111111"
MOST_EDGES = 60
"""Edges marked; more would hide the trace."""
SPECTRUM_SAMPLES = 1 << 18


def draw_waveform(
    wave: Waveform, analysis: Analysis | None, folder: Path, *, cursors: Sequence[float] = (), name: str = "waveform"
) -> tuple[Path, ...]:
    """
    Draws waveform and spectrum as SVG and PNG into a folder, made if new.

    Args:
        wave: The waveform.
        analysis: What was found in it; None draws the trace alone.
        folder: Where to.
        cursors: Times at which the trace is marked and read. [s]
        name: Begin of the files' names.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    require_plotting()
    figures = {name: waveform_figure(wave, analysis, cursors), f"{name}-spectrum": spectrum_figure(wave, analysis)}
    return tuple(path for one, figure in figures.items() for path in save_figure(figure, folder, one))


def waveform_figure(wave: Waveform, analysis: Analysis | None, cursors: Sequence[float] = ()) -> Figure:
    """The trace, with levels, edges and cursors read from the full record."""
    from matplotlib.figure import Figure
    from matplotlib.ticker import EngFormatter

    figure = Figure(figsize=(10.5, 4.6), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    places, values = envelope(wave.values)
    axes.plot(_times(wave, places), values, color=TRACE, linewidth=0.9)
    if wave.interval is not None:
        axes.xaxis.set_major_formatter(EngFormatter(unit="s"))
    _label(axes, wave, analysis)
    if analysis is not None and analysis.levels is not None and analysis.kind == STATES:
        _levels(axes, analysis)
        _edges(axes, wave, analysis)
    for number, time in enumerate(cursors, 1):
        _cursor(axes, wave, time, number)
    return figure


def spectrum_figure(wave: Waveform, analysis: Analysis | None) -> Figure:
    """The amplitude spectrum of the head of the record, in decibels below its strongest line."""
    from matplotlib.figure import Figure
    from matplotlib.ticker import EngFormatter

    figure = Figure(figsize=(10.5, 4.0), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    first = analysis.first if analysis else 0
    values = wave.values[first : first + SPECTRUM_SAMPLES]
    spectrum = amplitude_spectrum(values[np.isfinite(values)], SPECTRUM_SAMPLES)
    top = max(float(spectrum.amplitudes[1:].max(initial=0.0)), 1e-300)
    decibels = 20 * np.log10(np.maximum(spectrum.amplitudes[1:] / top, 1e-8))
    places, shown = envelope(decibels)
    scale = 1.0 if wave.interval is None else 1 / wave.interval
    axes.plot(np.interp(places, np.arange(len(decibels)), spectrum.frequencies[1:]) * scale, shown, color=TRACE, lw=0.8)
    if wave.interval is not None:
        axes.xaxis.set_major_formatter(EngFormatter(unit="Hz"))
    strongest = engineering(top, wave.unit) if wave.unit else f"{top:.3g} of full scale"
    axes.set(xlabel="cycles per sample" if wave.interval is None else "frequency",
             ylabel=f"dB below {strongest}", title=f"{wave.name}: spectrum (Hann window)", ylim=(-110, 5))  # fmt: skip
    return figure


def _times(wave: Waveform, places: Floats) -> Floats:
    return places if wave.interval is None else wave.start + places * wave.interval


def _label(axes: Axes, wave: Waveform, analysis: Analysis | None) -> None:
    axes.set(xlabel="sample" if wave.interval is None else "time",
             ylabel=f"{wave.name} / {wave.unit}" if wave.unit else f"{wave.name} / full scale")  # fmt: skip
    told = (
        [f"{key} {analysis.results[key]}" for key in ("frequency", "rise", "duty") if key in analysis.results]
        if analysis
        else []
    )
    axes.set_title(", ".join([f"{wave.name} ({len(wave.values)} samples)", *told]), fontsize=9)


def _levels(axes: Axes, analysis: Analysis) -> None:
    levels = analysis.levels
    assert levels is not None
    for share, words in ((0.0, "low"), (0.1, "10 %"), (0.5, "50 %"), (0.9, "90 %"), (1.0, "high")):
        whole = share in (0.0, 1.0)
        axes.axhline(levels.at(share), color=LEVEL, linewidth=0.9 if whole else 0.5, linestyle="-" if whole else ":")
        axes.annotate(words, (1.0, levels.at(share)), xycoords=("axes fraction", "data"), fontsize=7, color=LEVEL,
                      xytext=(3, 0), textcoords="offset points", va="center")  # fmt: skip


def _edges(axes: Axes, wave: Waveform, analysis: Analysis) -> None:
    edges, levels = analysis.edges, analysis.levels
    if edges is None or levels is None or len(edges) > MOST_EDGES:
        return
    for up, marker in ((True, "^"), (False, "v")):
        times = _times(wave, edges.times[edges.rising == up] + analysis.first)
        axes.plot(times, np.full(int((edges.rising == up).sum()), levels.at(0.5)), marker, color=EDGE, markersize=4)


def _cursor(axes: Axes, wave: Waveform, time: float, number: int) -> None:
    """A cursor stands on the sample nearest to its time; what it shows is that sample, not the thinned trace."""
    interval = wave.interval or 1.0
    place = round((time - wave.start) / interval)
    if not 0 <= place < len(wave.values):
        last = wave.start + interval * (len(wave.values) - 1)
        raise BadInput("Cannot set a cursor", f"the time {time:.6g} s", f"{wave.start:.6g} to {last:.6g} s",
                       "Set it inside the record.")  # fmt: skip
    at, value = wave.start + place * interval, float(wave.values[place])
    axes.axvline(at, color=CURSOR, linewidth=0.8, linestyle="--")
    shown = engineering(value, wave.unit, 4) if math.isfinite(value) and wave.unit else f"{value:.4g}"
    axes.annotate(f"{number}: {engineering(at, 's', 6)}, {shown}", (at, 1.0), xycoords=("data", "axes fraction"),
                  fontsize=7, color=CURSOR, xytext=(3, -8 * number), textcoords="offset points")  # fmt: skip
