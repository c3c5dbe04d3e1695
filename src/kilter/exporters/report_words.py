"""Fields, statements and readings of a dossier in the words of a report."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kilter.measure.instruments import instruments
from kilter.measure.measured import Measured
from kilter.measure.quantities import quantities
from kilter.measure.units import units
from kilter.records.dossier import Dossier, Statement, ToldReading, ToldVisit
from kilter.services.wording import percent

STAMP = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d)(:\d\d(\.\d+)?)?(Z|\+00:00)")
LABELS = (("number", "number"), ("name", "name"), ("kind", "what it is"), ("made", "made"), ("owner", "owner"),
          ("accession", "accession"), ("location", "where it stands"), ("state", "state"),
          ("limits", "limits of use"), ("board", "drawing used"))  # fmt: skip


def at(stamp: str) -> str:
    """
    A time for people; what is no stamp in UTC stays as it is.

    >>> at("2026-03-01T09:05:30Z"), at("spring 1991")
    ('2026-03-01 09:05 UTC', 'spring 1991')
    """
    found = STAMP.fullmatch(stamp)
    return f"{found[1]} {found[2]} UTC" if found else stamp


def fields(dossier: Dossier, otherwise: str) -> tuple[tuple[str, str], ...]:
    """Labels and fields of the object, `otherwise` where one is empty."""
    rows = [(label, getattr(dossier.object, key).strip() or otherwise) for key, label in LABELS]
    rows.append(("handed over by", dossier.house or otherwise))
    rows.append(("report of", at(dossier.made_at) or otherwise))
    return tuple(rows)


def statement(dossier: Dossier, one: Statement) -> str:
    """A statement with who says so, how far it can be relied on, and who wrote it down."""
    where = " ".join(word for word in (one.part, one.mode) if word)
    said = f"{where}: {one.text}" if where else one.text
    told = [one.when, f"source: {one.source}" if one.source else "", _reliability(one),
            " ".join(word for word in (at(one.at), dossier.shown(one.who)) if word)]  # fmt: skip
    rest = "; ".join(word for word in told if word)
    return f"{said} ({rest})" if rest else said


def _reliability(one: Statement) -> str:
    if one.reliability is not None:
        return f"reliability {one.reliability:g} of 1"
    return "reliability not judged" if one.kind == "diagnosis" else ""


def value(one: ToldReading) -> str:
    """
    What was read, with its uncertainty.

    >>> value(ToldReading(1, "TP1", "voltage", 4.98, unit="V", uncertainty=0.02))
    '4.98 ± 0.02 V'
    """
    if one.value is None:
        return one.word
    if one.unit not in units():  # a record may be older or newer than the units data
        spread = f" ± {one.uncertainty:g}" if one.uncertainty else ""
        return f"{one.value:g}{spread} {one.unit}"
    return str(Measured(one.value, one.unit, one.uncertainty))


def read(dossier: Dossier, one: ToldReading) -> tuple[str, ...]:
    """One row of a table of readings."""
    what = quantities()[one.quantity].words if one.quantity in quantities() else one.quantity
    tool = instruments()[one.instrument].words if one.instrument in instruments() else one.instrument
    remarks = ["taken back" if not one.standing else "", "doubtful" if one.doubtful else "", one.note]
    return (str(one.number), one.point, what, value(one), tool or "not said", one.state, at(one.at),
            dossier.shown(one.who), "; ".join(word for word in remarks if word))  # fmt: skip


def visit_heading(dossier: Dossier, visit: ToldVisit) -> str:
    """When it was opened and closed, by whom and why."""
    told = [f"opened {at(visit.opened)}" if visit.opened else "", f"by {dossier.shown(visit.who)}" if visit.who else "",
            f"closed {at(visit.closed)}" if visit.closed else "not closed"]  # fmt: skip
    words = ", ".join(word for word in told if word)
    return f"{words[0].upper()}{words[1:]}. {visit.reason}".strip()


def visit_notes(dossier: Dossier, visit: ToldVisit) -> Iterator[str]:
    """Entries that are no readings."""
    for one in visit.notes:
        rest = " ".join(word for word in (at(one.at), dossier.shown(one.who)) if word)
        head = f"{one.number}. {one.kind}" if one.standing else f"{one.number}. {one.kind}, taken back"
        yield head + (f": {one.words}" if one.words else "") + (f" ({rest})" if rest else "")


def share(probability: float) -> str:
    """A probability in per cent."""
    return percent(probability)
