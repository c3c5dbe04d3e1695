"""A capture's results as text and as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from kilter.cli.layout import columns, heading, wrapped
from kilter.measure.measured import Measured, engineering
from kilter.services.read_capture import ChannelView, ScopeReadings
from kilter.services.wording import said
from kilter.signals.analysis import WORDS, Analysis
from kilter.signals.composite import KEYS, Composite, systems
from kilter.signals.spectrum import Line
from kilter.signals.waveform import Capture, Waveform

SHARES = ("overshoot", "undershoot", "duty")


def as_data(
    capture: Capture,
    views: Sequence[ChannelView],
    video: Composite | None,
    lines: Mapping[str, Sequence[Line]],
    made: ScopeReadings | None,
) -> dict[str, Any]:
    """Everything as plain data; the keys are in docs/captures.md."""
    channels = [_channel(wave, view) for wave, view in zip(capture.waveforms, views, strict=True)]
    told: dict[str, Any] = {"file": capture.file, "sha256": capture.sha256, "remarks": dict(capture.remarks),
                            "warnings": list(capture.warnings), "channels": channels}  # fmt: skip
    if video:
        told["composite"] = {"system": video.system, "results": _measured(video.results),
                             "missing": dict(video.missing), "notes": list(video.remarks)}  # fmt: skip
    if lines:
        told["lines"] = {name: [{"frequency": one.frequency, "amplitude": one.amplitude, "uncertainty": one.uncertainty}
                                for one in found] for name, found in lines.items()}  # fmt: skip
    if made:
        told["readings"] = [{"point": one.point, "quantity": one.quantity, "value": one.value, "word": one.word,
                             "uncertainty": one.uncertainty, "state": one.state, "doubtful": one.doubtful,
                             "note": one.note} for one in made.readings]  # fmt: skip
        told["silent"] = dict(made.silent)
    return told


def _channel(wave: Waveform, view: ChannelView) -> dict[str, Any]:
    found = view.analysis
    return {
        "name": wave.name, "unit": wave.unit, "samples": len(wave.values), "interval": wave.interval,
        "kind": found.kind if found else None, "results": _measured(found.results) if found else {},
        "missing": dict(found.missing) if found else {}, "doubts": list(found.doubts if found else wave.warnings),
        "unread": view.unread,
    }  # fmt: skip


def _measured(results: Mapping[str, Measured]) -> dict[str, Any]:
    return {key: {"value": float(one.value), "unit": one.unit, "uncertainty": float(one.uncertainty)}
            for key, one in results.items()}  # fmt: skip


def text(
    capture: Capture,
    views: Sequence[ChannelView],
    video: Composite | None,
    lines: Mapping[str, Sequence[Line]],
    made: ScopeReadings | None,
) -> str:
    """Everything as text; ± is one standard uncertainty."""
    count = len(capture.waveforms)
    parts = [f"{capture.file}: {count} {'channel' if count == 1 else 'channels'}. ± is one standard uncertainty."]
    parts += [wrapped(words, 2, 2) for words in capture.warnings]
    for wave, view in zip(capture.waveforms, views, strict=True):
        parts += _channel_text(wave, view)
    if video:
        parts += _video(video)
    for name, found in lines.items():
        parts += _lines(name, found)
    if made:
        parts += _made(made)
    return "\n".join(parts)


def _channel_text(wave: Waveform, view: ChannelView) -> list[str]:
    every = "at an unknown interval" if wave.interval is None else f"every {engineering(wave.interval, 's', 4)}"
    parts = [heading(wave.name), f"  {len(wave.values)} samples {every}"]
    if view.analysis is None:
        return [*parts, wrapped(f"Not analysed: {view.unread}.", 2, 2)]
    found = view.analysis
    parts[-1] += f"; {found.kind}."
    parts.append(columns((WORDS[key], shown(key, found.results[key])) for key in WORDS if key in found.results))
    parts += [wrapped(f"Not told: {words}.", 2, 2) for words in _reasons(found)]
    return parts + [wrapped(f"Doubt: {words}", 2, 2) for words in found.doubts]


def shown(key: str, one: Measured) -> str:
    """
    A result as text; shares in per cent.

    >>> shown("duty", Measured(0.4, "", 0.001))
    '40.00 ± 0.10 %'
    """
    if key in SHARES:
        return f"{Measured(100 * one.value, '', 100 * one.uncertainty)} %"
    return str(one)


def _reasons(found: Analysis) -> list[str]:
    """Each reason once, with all it concerns."""
    grouped: dict[str, list[str]] = {}
    for key, why in found.missing.items():
        grouped.setdefault(why, []).append(WORDS[key])
    return [f"{', '.join(keys)}: {why}" for why, keys in grouped.items()]


def _video(video: Composite) -> list[str]:
    system = systems()[video.system]
    rows = [("", "read", "broadcast figure")]
    for key, words in KEYS.items():
        if key in video.results:
            one = video.results[key]
            rows.append(
                (words, str(one), engineering(system[key], one.unit, 4) if key in system and key != "lines" else "")
            )
    parts = [heading("composite video"), f"  Nearest system: {system['words']}.", columns(rows)]
    parts += [wrapped(f"Not told: {KEYS[key]}: {why}.", 2, 2) for key, why in video.missing.items()]
    parts += [wrapped(words, 2, 2) for words in video.remarks]
    parts.append(
        wrapped("A computer need not keep to broadcast figures: compare with its own crystal and dividers.", 2, 2)
    )
    return parts


def _lines(name: str, found: Sequence[Line]) -> list[str]:
    rows = [(f"{one.frequency:.6g} Hz", f"{one.amplitude:.3g} ± {one.uncertainty:.1g} peak") for one in found]
    return [heading(f"lines of {name}"), columns(rows) if rows else "  None below half the sample rate."]


def _made(made: ScopeReadings) -> list[str]:
    rows = [
        (one.point, one.quantity, said(one), one.state, "doubtful" if one.doubtful else "") for one in made.readings
    ]
    parts = [heading("readings"), columns(rows) if rows else "  None."]
    parts += [wrapped(f"{channel}: no reading, {why}.", 2, 2) for channel, why in made.silent.items()]
    if not made.places:
        parts.append(
            wrapped("No channel is named after a place of the board; say where with --at CHANNEL=POINT.", 2, 2)
        )
    return parts
