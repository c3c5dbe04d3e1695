"""Which display standard a signal is near, and what has to be converted for a display of today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kilter.measure.errors import BadInput, OutOfRange
from kilter.measure.tables import table

DOING = "Cannot tell the standard of a signal"


@dataclass(frozen=True)
class Standard:
    """
    One display standard.

    Args:
        key: Such as '625'.
        words: For people.
        line_rate: [Hz]
        field_rate: [Hz]
        colours: Subcarrier by colour system in words; empty for separate colours. [Hz]
    """

    key: str
    words: str
    line_rate: float
    field_rate: float
    colours: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Signal:
    """
    A signal as measured.

    Args:
        line_rate: [Hz]
        field_rate: [Hz]
        subcarrier: Of its colour. [Hz]
        display: Key of the standard that the display takes; '' for none in mind.
    """

    line_rate: float
    field_rate: float | None = None
    subcarrier: float | None = None
    display: str = ""


@dataclass(frozen=True)
class SignalNotes:
    """
    The answer.

    Args:
        standard: In words; '' where the signal is near none.
        line_share: Distance of the line rate from the nearest, as share.
        field_share: The same of the field rate, None where it was not given.
        colour: The nearest subcarrier in words and its distance in parts per million, None where none was given.
        lines: Lines in a field, None without a field rate.
        notes: Sentences.
    """

    standard: str
    line_share: float
    field_share: float | None
    colour: tuple[str, float] | None
    lines: float | None
    notes: tuple[str, ...]


def standards() -> tuple[Standard, ...]:
    """All that are known."""
    data, systems = table("adaptation/standards"), table("composite_video")["systems"]
    found = [Standard(key, one["words"].split(" (")[0], one["line_rate"], one["field"], data["colours"][key])
             for key, one in systems.items()]  # fmt: skip
    separate = data["separate"]
    return (*found, Standard(separate["key"], separate["words"], separate["line_rate"], separate["field"]))


def signal_notes(signal: Signal) -> SignalNotes:
    """
    Puts measured rates beside the standards.

    Raises:
        OutOfRange: A rate that is not above 0.
        BadInput: A display that is not in the table.

    >>> found = signal_notes(Signal(15625.0, 50.08))
    >>> found.standard, round(found.lines or 0)
    ('625 lines, 50 fields', 312)
    """
    given = [one for one in (signal.line_rate, signal.field_rate, signal.subcarrier) if one is not None]
    if not min(given) > 0:
        raise OutOfRange(DOING, f"a rate of {min(given):g} Hz", "rates above 0",
                         "Measure it again ('kilter capture').")  # fmt: skip
    known = {one.key: one for one in standards()}
    if signal.display and signal.display not in known:
        raise BadInput(DOING, f"the display '{signal.display}'", ", ".join(known), "Name one of these.")
    near = min(known.values(), key=lambda one: _distance(one, signal))
    line = signal.line_rate / near.line_rate - 1
    field_share = None if signal.field_rate is None else signal.field_rate / near.field_rate - 1
    lines = None if signal.field_rate is None else signal.line_rate / signal.field_rate
    colour = _colour(near, signal.subcarrier)
    locks = abs(line) <= _limit("line_share")
    notes = [*_own(locks, field_share, colour, lines), *_display(known.get(signal.display), signal), _note("digital")]
    return SignalNotes(near.words if locks else "", line, field_share, colour, lines, tuple(notes))


def _limit(key: str) -> float:
    return float(table("adaptation/standards")["limits"][key])


def _note(key: str) -> str:
    return str(table("adaptation/standards")["notes"][key])


def _distance(one: Standard, signal: Signal) -> float:
    """By line rate; between standards that nearly share one, a colour carrier that fits tells."""
    colour = 0.0
    if signal.subcarrier is not None:
        off = min((1e6 * abs(hertz / signal.subcarrier - 1) for hertz in one.colours.values()), default=1e6)
        colour = _limit("line_share") * min(off / _limit("colour_ppm"), 1.0)
    return abs(signal.line_rate / one.line_rate - 1) + colour


def _colour(one: Standard, subcarrier: float | None) -> tuple[str, float] | None:
    if subcarrier is None or not one.colours:
        return None
    words, hertz = min(one.colours.items(), key=lambda row: abs(row[1] / subcarrier - 1))
    return words, 1e6 * (subcarrier / hertz - 1)


def _own(locks: bool, field_share: float | None, colour: tuple[str, float] | None, lines: float | None) -> list[str]:
    """What the signal is by itself."""
    found = [_note("near_line" if locks else "far_line")]
    if field_share is not None and abs(field_share) > _limit("field_share"):
        found.append(_note("field_far"))
    if lines is not None and abs(lines - round(lines)) < _limit("whole_lines"):
        found.append(_note("progressive"))
    if colour is not None:
        found.append(_note("near_colour" if abs(colour[1]) <= _limit("colour_ppm") else "far_colour"))
    return found


def _display(display: Standard | None, signal: Signal) -> list[str]:
    """What a display of one standard would need."""
    if display is None:
        return []
    found = []
    if abs(signal.line_rate / display.line_rate - 1) > _limit("line_share"):
        found.append(_note("display_line"))
    if signal.field_rate is None:
        found.append(_note("unsure"))
    elif abs(signal.field_rate / display.field_rate - 1) > _limit("field_share"):
        found.append(_note("display_field"))
    colour = _colour(display, signal.subcarrier)
    if signal.subcarrier is not None and (colour is None or abs(colour[1]) > _limit("colour_ppm")):
        found.append(_note("display_colour"))
    return found or [_note("display_fits")]
