"""The report on a logic capture as text."""

from __future__ import annotations

from typing import Any

from kilter.cli.layout import columns, heading, wrapped
from kilter.measure.measured import Measured, engineering

CAUTION = (
    "An analyser has one threshold: a line that floats or is fought over shows as low or high here. What happened "
    "between two samples, and before or after the capture, was not seen."
)


def logic_text(report: dict[str, Any]) -> str:
    """The whole report."""
    length, step = engineering(report["length"], "s"), engineering(report["step"], "s")
    said = [f"{report['capture']}: {len(report['lines'])} lines, {length} in steps of {step}."]
    said += [wrapped(f"! {words}", 2, 2) for words in report["warnings"]]
    said += [heading("lines"), columns(_line(one) for one in report["lines"])]
    said += _remarks(report["lines"])
    for title, key, told in (("resets", "resets", _reset), ("selects", "overlaps", _overlap)):
        if report[key]:
            said += [heading(title), *(wrapped(told(one), 2, 2) for one in report[key])]
    if report["address_walk"]:
        said += [heading("address walk"), columns(_step(one) for one in report["address_walk"])]
    if report["bus"]:
        said += [heading("bus"), *(wrapped(words, 2, 2) for words in _bus(report["bus"]))]
    if "readings" in report:
        said += _readings(report)
    return "\n".join([*said, "", wrapped(CAUTION)])


def _line(one: dict[str, Any]) -> tuple[str, ...]:
    if one["frequency"] is not None:
        what = str(Measured(one["frequency"], "Hz", one["frequency_uncertainty"]))
        return one["line"], one["level"], what, f"high {one['duty']:.1%}" if one["duty"] is not None else ""
    if one["level"] == "pulsing":
        share = f"high {one['high']:.1%}" if one["high"] is not None and one["high"] == one["high"] else ""
        return one["line"], one["level"], f"{one['changes']} changes, {one['no_frequency']}", share
    return one["line"], one["level"], "", ""


def _remarks(lines: list[dict[str, Any]]) -> list[str]:
    """Each remark once, with the lines that it is about."""
    about: dict[str, list[str]] = {}
    for one in lines:
        extra = [f"{one['glitches']} pulse(s) far shorter than the others"] if one["glitches"] else []
        extra += [f"{one['bursts']} bursts"] if one["bursts"] else []
        for words in [*extra, *one["remarks"]]:
            about.setdefault(words, []).append(one["line"])
    return [wrapped(f"{_some(names)}: {words}.", 2, 2) for words, names in about.items()]


def _some(names: list[str]) -> str:
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def _reset(one: dict[str, Any]) -> str:
    if one["length"] is None:
        return f"{one['line']}: {one['course']}."
    least = "at least " if one["at_least"] else ""
    return f"{one['line']} ({one['asserted']} resets): {one['course']}, first for {least}" + (
        f"{engineering(one['length'], 's')}; {one['times']} time(s)."
    )


def _overlap(one: dict[str, Any]) -> str:
    kind = "may be no more than switching at different speed" if one["skew"] else "two chips may drive the bus at once"
    longest = engineering(one["longest"], "s")
    return f"{one['first']} and {one['second']} overlap {one['times']} time(s), longest {longest}: {kind}."


def _step(one: dict[str, Any]) -> tuple[str, str, str]:
    return one["line"], f"{engineering(one['rate'], '')} changes a second", one["verdict"]


def _bus(bus: dict[str, Any]) -> list[str]:
    held = ", ".join(f"{one['word']:#x} ({one['share']:.0%})" for one in bus["held"][:6])
    said = [f"{bus['distinct']} different words; held longest: {held or 'none'}."]
    if bus["floating"] or bus["unknown"]:
        said.append(f"Floating {bus['floating']:.1%}, not told {bus['unknown']:.1%} of the time.")
    said += [
        f"{one['line']} stays {one['level']} while the others move: stuck, or not used here." for one in bus["still"]
    ]
    said += [
        f"{first} and {second} are always alike: joined, or alike in this program." for first, second in bus["joined"]
    ]
    return said


def _readings(report: dict[str, Any]) -> list[str]:
    rows = [
        (one["point"], one["quantity"], _value(one), one["state"], "doubtful" if one["doubtful"] else "")
        for one in report["readings"]
    ]
    said = [heading("readings"), columns(rows) if rows else "  none"]
    said += [wrapped(f"{one['line']} gives no reading: {one['why']}.", 2, 2) for one in report["silent"]]
    if report["elsewhere"]:
        said.append(
            wrapped(f"Not on the board: {_some(report['elsewhere'])}. Place them with --at CHANNEL=PLACE.", 2, 2)
        )
    return said


def _value(one: dict[str, Any]) -> str:
    if one["value"] is None:
        return str(one["word"])
    from kilter.measure.quantities import quantity

    return str(Measured(one["value"], quantity(one["quantity"]).unit, one["uncertainty"]))
