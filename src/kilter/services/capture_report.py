"""What a logic capture tells, as plain data: lines, resets, selects, address walk, bus."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from kilter.measure.errors import BadInput
from kilter.services.read_logic_capture import CaptureView
from kilter.signals.bus_activity import address_walk, bus_states, overlaps
from kilter.signals.line_activity import LineActivity
from kilter.signals.logic_lines import LogicLine
from kilter.signals.reset_course import reset_course

Report = dict[str, Any]


def capture_report(
    view: CaptureView,
    *,
    resets: Mapping[str, int] | None = None,
    selects: Sequence[str] = (),
    address: Sequence[str] = (),
    bus: Sequence[str] = (),
) -> Report:
    """
    The report.

    Args:
        view: Of the capture.
        resets: Reset lines, with the level that resets.
        selects: Select lines of chips on one bus, low when selected.
        address: Address lines, least significant first.
        bus: Lines of a bus, least significant first.

    Raises:
        BadInput: A channel that the capture does not have.
    """
    capture = view.capture
    found: Report = {
        "capture": capture.source,
        "length": capture.length,
        "step": capture.step_s,
        "warnings": list(capture.warnings),
        "lines": [_line(one) for one in view.lines.values()],
        "resets": [_reset(view, line, (resets or {})[name]) for name, line in _named(view, list(resets or {}))],
    }
    chosen = [line for _, line in _named(view, selects)]
    found["overlaps"] = [
        {"first": one.first, "second": one.second, "times": one.times, "longest": one.longest, "total": one.total,
         "skew": one.skew} for one in (overlaps(chosen, capture) if len(chosen) > 1 else ())
    ]  # fmt: skip
    walked = [line for _, line in _named(view, address)]
    found["address_walk"] = [
        {"line": one.line, "rate": one.rate, "ratio": one.ratio, "verdict": one.verdict}
        for one in (address_walk(walked, capture) if walked else ())
    ]
    found["bus"] = _bus(view, bus)
    return found


def channel_named(view: CaptureView, name: str) -> str:
    """
    The channel as the capture spells it; scopes may be left out where that is enough.

    Raises:
        BadInput: There is no such channel, or more than one.
    """
    names = list(view.lines)
    same = [one for one in names if one.lower() == name.lower()]
    same = same or [one for one in names if one.rpartition(".")[2].lower() == name.lower()]
    if len(same) == 1:
        return same[0]
    found = f"the channel '{name[:60]}', which {'is there more than once' if same else 'it does not have'}"
    raise BadInput(f"Cannot look at the capture {view.capture.source}", found, ", ".join(names[:16]),
                   "Use one of these names.")  # fmt: skip


def _named(view: CaptureView, names: Sequence[str]) -> list[tuple[str, LogicLine]]:
    """The lines of these channels, each with the name that was given."""
    every = view.capture.every_line() if names else {}
    return [(name, every[channel_named(view, name)]) for name in names]


def _line(one: LineActivity) -> Report:
    frequency, duty = one.frequency, one.duty
    return {
        "line": one.name,
        "level": one.word,
        "activity": one.activity,
        "changes": one.changes,
        "known": one.known,
        "high": one.high,
        "frequency": frequency.value if frequency else None,
        "frequency_uncertainty": frequency.uncertainty if frequency else None,
        "duty": duty.value if duty else None,
        "duty_uncertainty": duty.uncertainty if duty else None,
        "no_frequency": one.why,
        "shortest_high": one.shortest_high,
        "shortest_low": one.shortest_low,
        "bursts": one.bursts,
        "glitches": one.glitches,
        "first_glitch": one.first_glitch,
        "remarks": list(one.remarks),
    }


def _reset(view: CaptureView, line: LogicLine, asserted: int) -> Report:
    course = reset_course(line, view.capture, asserted=asserted)
    return {
        "line": line.name,
        "asserted": "high" if asserted else "low",
        "course": course.course,
        "times": course.times,
        "length": course.length.value if course.length else None,
        "at_least": course.at_least,
        "released": course.released,
    }


def _bus(view: CaptureView, names: Sequence[str]) -> Report | None:
    lines = [line for _, line in _named(view, names)]
    if not lines:
        return None
    states = bus_states(lines, view.capture)
    return {
        "distinct": states.distinct,
        "held": [{"word": word, "share": share} for word, share in states.held],
        "floating": states.floating,
        "unknown": states.unknown,
        "still": [{"line": name, "level": level} for name, level in states.still],
        "joined": [list(pair) for pair in states.joined],
    }
