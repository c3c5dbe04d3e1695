"""A design and the notes on a signal as text for a terminal."""

from __future__ import annotations

from kilter.cli.layout import columns, heading, wrapped
from kilter.measure.measured import engineering
from kilter.safety.adaptation.design import BEYOND, OPEN, Design, Figure
from kilter.safety.adaptation.standards import SignalNotes
from kilter.services.design_adaptation import NOT_CHECKED

STANDING = {
    "within": "Every figure keeps what was asked over the tolerance of the parts.",
    BEYOND: "NOT EVERYTHING THAT WAS ASKED IS MET: see the figures marked 'beyond'.",
    OPEN: "Something that matters is not known: see the figures marked 'not known'.",
}


def design_text(made: Design) -> str:
    """All of a design."""
    parts = [f"{made.title[0].upper()}{made.title[1:]}", STANDING[made.standing]]
    parts.append(heading("ways to fit it, the least invasive first"))
    for one in made.routes:
        approval = " Needs somebody else's approval." if one.approval else ""
        parts.append(wrapped(f"grade {one.grade}: {one.title}. {one.words}{approval}", 2, 2))
    parts += [heading("parts"), columns((one.ref, one.value, one.use, one.bears) for one in made.parts)]
    rows = [("", "nominal", "over tolerance", "asked", ""), *(_figure(one) for one in made.figures)]
    parts += [heading("what it does"), columns(rows), heading("cautions")]
    return "\n".join([*parts, *(wrapped(f"- {one}", 2, 2) for one in (*made.cautions, NOT_CHECKED))])


def _figure(one: Figure) -> tuple[str, str, str, str, str]:
    low, middle, high = (_shown(value, one.unit) for value in one.value)
    return one.key, middle, "" if low == high else f"{low} to {high}", _asked(one), one.standing


def _asked(one: Figure) -> str:
    if one.least is None:
        return "" if one.most is None else f"up to {_shown(one.most, one.unit)}"
    least = _shown(one.least, one.unit)
    return f"from {least}" if one.most is None else f"{least} to {_shown(one.most, one.unit)}"


def _shown(value: float, unit: str) -> str:
    if value != value:
        return "?"
    if unit in ("V", "A", "W", "Hz", "ohm", "F", "H"):
        return engineering(value, unit)
    return f"{value:+.2f} dB" if unit == "dB" else f"{value:.3g} {unit}"


def notes_text(made: SignalNotes) -> str:
    """What was found about a signal."""
    parts = [f"Near: {made.standard}" if made.standard else "Near no standard that is in the table"]
    rows = [("line rate", f"{100 * made.line_share:+.2f} %")]
    if made.field_share is not None:
        rows.append(("field rate", f"{100 * made.field_share:+.2f} %"))
    if made.colour is not None:
        rows.append((f"colour carrier, {made.colour[0]}", f"{made.colour[1]:+.0f} ppm"))
    if made.lines is not None:
        rows.append(("lines in a field", f"{made.lines:.1f}"))
    return "\n".join([*parts, columns(rows), *(wrapped(f"- {one}", 2, 2) for one in made.notes)])
