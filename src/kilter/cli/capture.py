"""`kilter capture`: what an oscilloscope capture tells, and the readings that follow from it."""

from __future__ import annotations

import argparse
import csv
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from kilter.cli.capture_text import as_data, text
from kilter.cli.layout import as_json
from kilter.importers.captures.read_capture import read_capture
from kilter.importers.written_values import written_value
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.records.reading import Reading
from kilter.services.read_capture import ScopeReadings, analyse_capture, scope_readings
from kilter.signals.composite import composite
from kilter.signals.scope import Scope
from kilter.signals.spectrum import Line, lines_at
from kilter.signals.waveform import Capture, Waveform
from kilter.wiring.loading import load_board

HELP = "what an oscilloscope capture tells"
DESCRIPTION = (
    "Reads a capture (a table of numbers as text, WAV, NumPy), tells levels, timing and ripple of every channel with "
    "their uncertainty, and what cannot be told and why. With a board it makes readings."
)
UNANSWERED = 3
MULTIPLES = range(1, 9)
"""Multiples of a rate at which lines are sought."""


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("file", metavar="FILE", type=Path, help="the capture")
    parser.add_argument("--interval", metavar="TIME", default="", help="sample interval, where the file tells none")
    parser.add_argument("--full-scale", metavar="VOLTS", default="", help="voltage of the largest code of a WAV file")
    parser.add_argument("--probe", metavar="[CHANNEL=]RATIO", action="append", default=[],
                        help="multiply by this: 10 where a 10:1 probe was set to 1:1 on the instrument")  # fmt: skip
    parser.add_argument("--time-base", metavar="SHARE", default="", help="standard uncertainty of the time base: 25e-6")
    parser.add_argument("--gain", metavar="SHARE", default="", help="standard uncertainty of the vertical gain: 1%%")
    parser.add_argument("--composite", metavar="CHANNEL", default="", help="read a channel as composite video")
    parser.add_argument("--lines-of", metavar="RATE", default="",
                        help="spectral lines at multiples of a rate, such as a line or clock rate")  # fmt: skip
    parser.add_argument("--board", metavar="BOARD", default="", help="make readings for this board")
    parser.add_argument("--at", metavar="CHANNEL=POINT", action="append", default=[], help="where a channel hung")
    parser.add_argument("--state", metavar="NAME", default="", help="the powered state the object was in")
    parser.add_argument("--readings", metavar="FILE", type=Path, help="write the readings as a readings file")
    parser.add_argument("--plot", metavar="DIR", type=Path, help="draw waveforms and spectra")
    parser.add_argument("--cursor", metavar="TIME", action="append", default=[], help="mark this time in the picture")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Reads, analyses and prints; exit code 3 where a channel cannot be analysed or a placed one gives no reading."""
    capture = _probed(_read(chosen), chosen.probe)
    scope = _scope(chosen)
    views = analyse_capture(capture, scope)
    video = composite(capture.channel(chosen.composite), scope) if chosen.composite else None
    lines = _lines(capture, chosen.lines_of)
    made = _readings(chosen, capture, views) if chosen.board else None
    if chosen.readings and made:
        _write(chosen.readings, made.readings)
    if chosen.plot:
        _draw(chosen, capture, views)
    told: dict[str, Any] = as_data(capture, views, video, lines, made)
    print(as_json(told) if chosen.json else text(capture, views, video, lines, made))
    silent = made is not None and (made.silent or not made.places)
    return UNANSWERED if silent or any(view.analysis is None for view in views) else 0


def _read(chosen: argparse.Namespace) -> Capture:
    interval = written_value(chosen.interval, "s").value if chosen.interval else None
    full = written_value(chosen.full_scale, "V").value if chosen.full_scale else None
    for name, value in (("interval", interval), ("full scale", full)):
        if value is not None and not 0 < value < float("inf"):
            raise BadInput("Cannot read the capture", f"the {name} {value:g}", "a number above zero", "Correct it.")
    return read_capture(chosen.file, interval=interval, full_scale=full)


def _probed(capture: Capture, ratios: Sequence[str]) -> Capture:
    """The capture with probe ratios applied."""
    waves = {wave.name: wave for wave in capture.waveforms}
    for word in ratios:
        channel, _, ratio = word.rpartition("=")
        factor = _number(
            ratio.lower().removesuffix("x").removesuffix(":1"), f"the probe ratio '{word}'", "such as 10 or CH1=10"
        )
        for name in [capture.channel(channel).name] if channel else list(waves):
            waves[name] = waves[name].scaled(factor)
    return replace(capture, waveforms=tuple(waves[wave.name] for wave in capture.waveforms))


def _number(word: str, found: str, allowed: str) -> float:
    try:
        value = float(word)
    except ValueError:
        value = 0.0
    if not 0 < value < float("inf"):
        raise BadInput("Cannot read an option", found, f"a number above zero, {allowed}", "Retype it.")
    return value


def _scope(chosen: argparse.Namespace) -> Scope:
    scope = Scope()
    for key, word in (("time_base", chosen.time_base), ("gain", chosen.gain)):
        if word:
            scaled = word.removesuffix("%")
            value = _number(scaled, f"'{word}' for {key.replace('_', ' ')}", "such as 25e-6 or 1%")
            scope = replace(scope, **{key: value / 100 if scaled != word else value})
    return scope


def _lines(capture: Capture, rate: str) -> dict[str, tuple[Line, ...]]:
    if not rate:
        return {}
    hertz = written_value(rate, "Hz").value
    if not 0 < hertz < float("inf"):
        raise BadInput("Cannot look for spectral lines", f"the rate {hertz:g} Hz", "a rate above zero", "Correct it.")
    found = {}
    for wave in capture.waveforms:
        if wave.interval is not None and len(wave.values) > 16:
            interval = wave.interval
            told = lines_at(_whole(wave), hertz * interval, MULTIPLES)
            found[wave.name] = tuple(replace(one, frequency=one.frequency / interval) for one in told)
    return found


def _whole(wave: Waveform) -> Any:
    from kilter.signals.noise import longest_whole

    return wave.values[longest_whole(wave.values)]


def _readings(chosen: argparse.Namespace, capture: Capture, views: Sequence[Any]) -> ScopeReadings:
    said = {}
    for word in chosen.at:
        channel, mark, point = word.partition("=")
        if not mark or not channel.strip():
            raise BadInput(
                "Cannot place a channel on the board", f"'{word}'", "CHANNEL=POINT, such as CH1=TP3", "Retype it."
            )
        said[capture.channel(channel).name] = point.strip()
    return scope_readings(capture, views, load_board(chosen.board), said=said, state=chosen.state)


def _write(path: Path, readings: Sequence[Reading]) -> None:
    """A readings file that `kilter diagnose --readings` takes."""
    try:
        with path.open("w", encoding="utf-8", newline="") as file:
            rows = csv.writer(file)
            rows.writerow(["point", "quantity", "value", "uncertainty", "instrument", "state", "doubtful", "note"])
            for one in readings:
                unit = quantity(one.quantity).unit
                value = one.word if one.value is None else f"{one.value:.9g} {unit}".strip()
                spread = "" if one.value is None else f"{one.uncertainty:.3g} {unit}".strip()
                rows.writerow([one.point, one.quantity, value, spread, one.instrument, one.state,
                               "yes" if one.doubtful else "no", one.note])  # fmt: skip
    except OSError as error:
        raise BadInput("Cannot write the readings", f"'{path}': {error.strerror}", "a file that can be written",
                       "Name another file.") from None  # fmt: skip


def _draw(chosen: argparse.Namespace, capture: Capture, views: Sequence[Any]) -> None:
    from kilter.wiring.waveform_plots import draw_waveform

    cursors = [written_value(word, "s").value for word in chosen.cursor]
    for place, (wave, view) in enumerate(zip(capture.waveforms, views, strict=True), 1):
        draw_waveform(wave, view.analysis, chosen.plot, cursors=cursors, name=f"channel-{place}")
