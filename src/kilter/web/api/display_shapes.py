"""Shapes of requests and answers about objects on display."""

from __future__ import annotations

from kilter.planning.display.due import inspection_keys
from kilter.planning.display.models import wear_kinds
from kilter.store.models import DisplayInspection, RunningEntry
from kilter.store.verbs.showings import BOUNDS
from kilter.web.api.fields import BY, ID, TOLD, WHY
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Many, Maybe, Number, Shape, Text, Told, Truth, Whole, Words

DAY_TYPED = Text(10, r"[0-9]{4}-[0-9]{2}-[0-9]{2}", "year-month-day")
DAY, MAYBE_DAY, MAYBE = Told("date"), Maybe(Told("date")), Maybe(Number())
KIND, KEY = Words(tuple(wear_kinds())), Words(inspection_keys())
RUNNING, OUTCOME = Words(RunningEntry.KINDS), Words(DisplayInspection.OUTCOMES)
COUNTS = ("hours", "switch_ons", "celsius", "humidity")
STANDS: dict[str, Field | Shape] = {
    "id": ID, **BY, "why": TOLD, "supersedes": Field(Maybe(Whole(1)), "id of the entry it takes the place of"),
    "withdrawn": Field(Truth(), "it takes back the one it supersedes"),
}  # fmt: skip
CORRECTS: dict[str, Field] = {
    "supersedes": may(Maybe(Whole(1)), "id of the entry that it corrects; then 'why' is needed"), "why": may(WHY),
}  # fmt: skip
FIGURES = {name: may(Maybe(Number(low, high)), f"{unit}; null or left out where nobody knows")
           for name, (low, high, unit) in BOUNDS.items()}  # fmt: skip
PERIOD = Record("DisplayPeriod", {
    "begin": DAY, "end": Field(MAYBE_DAY, "null while it stands there"), "place": TOLD, "conditions": TOLD,
    **dict.fromkeys(BOUNDS, MAYBE), **STANDS,
})  # fmt: skip
NEW_PERIOD = Record("NewDisplayPeriod", {
    "begin": DAY_TYPED, "end": may(Maybe(DAY_TYPED), "day on which it was taken off"), "place": may(Text(200)),
    "conditions": may(Text(4000)), **FIGURES, **CORRECTS,
})  # fmt: skip
ENTRY = Record("RunningEntry", {
    "kind": RUNNING, "day": DAY, "first": MAYBE_DAY, "anew": Truth(), **dict.fromkeys(COUNTS, MAYBE), "words": TOLD,
    **STANDS,
})  # fmt: skip
NEW_ENTRY = Record("NewRunningEntry", {
    "kind": Field(RUNNING, "'meter read': what meter and tally show; 'ran': of these days alone; 'room'"),
    "day": Field(DAY_TYPED, "on which it was read; the last day that is told of"),
    "first": may(Maybe(DAY_TYPED), "with 'ran' alone: the first day"),
    "hours": may(MAYBE, "null or left out where nobody counted; 0 where it did not run"), "switch_ons": may(MAYBE),
    "anew": may(Truth(), "with 'meter read' alone: it was set back or changed, and counts from here"),
    "celsius": may(MAYBE, "with 'room' alone"), "humidity": may(MAYBE, "with 'room' alone, %"),
    "words": may(Text(4000)), **CORRECTS,
})  # fmt: skip
INSPECTION = Record("DisplayInspection", {
    "key": TOLD, "day": DAY, "outcome": OUTCOME, "words": TOLD, "inspector": TOLD, "again": MAYBE_DAY, **STANDS,
})  # fmt: skip
NEW_INSPECTION = Record("NewDisplayInspection", {
    "key": Field(KEY, "what was inspected"), "day": DAY_TYPED, "outcome": OUTCOME,
    "words": may(Text(10_000), "what was found; needed unless nothing was"),
    "inspector": may(Text(200), "who inspected, where it was not this person"),
    "again": may(Maybe(DAY_TYPED), "by which day it is to be done again, sooner than usual"), **CORRECTS,
})  # fmt: skip
WEAR = Record("WearingParts", {"kind": TOLD, "count": Whole(), "words": TOLD, **STANDS})
NEW_WEAR = Record("NewWearingParts", {
    "kind": KIND, "count": Field(Whole(0, 10_000), "goes before what is counted on the board"),
    "words": may(Text(2000)),
})  # fmt: skip
RENEWED = Record("PartsRenewed", {
    "repair": Field(Maybe(Whole(1)), "id of the repair"), "kind": TOLD, "day": DAY, "count": Whole(),
    "failed": Field(Maybe(Whole()), "of which had failed; null where nobody knows"), "words": TOLD, **STANDS,
})  # fmt: skip
NEW_RENEWED = Record("NewPartsRenewed", {
    "repair": may(Maybe(Whole(1)), "id of the repair that did it"), "kind": KIND, "day": DAY_TYPED,
    "count": Whole(1, 10_000), "failed": may(Maybe(Whole(0, 10_000))), "words": may(Text(2000)), **CORRECTS,
})  # fmt: skip
DUE = Record("DisplayDue", {
    "object": Field(Whole(1), "id"), "number": TOLD, "key": TOLD, "words": TOLD, "day": DAY,
    "over": Field(Truth(), "its day is past, or it was never written down"), "last": MAYBE_DAY,
    "months": Field(Whole(), "after which it comes again; 0 for once"),
})  # fmt: skip
SHOWN = Record("DisplayedObject", {
    "object": Field(Whole(1), "id"), "number": TOLD,
    **{f"{name}{more}": shape for name in ("hours", "switch_ons") for more, shape in (
        ("", Field(MAYBE, "null where nobody counted or planned")), ("_a_year", Number()),
        ("_basis", Words(("counted", "planned", "assumed"))), ("_told", Field(MAYBE, "what was really counted")))},
    "assumed": Field(Many(TOLD), "what nobody knows, in sentences"),
})  # fmt: skip
NOW = Record("OnDisplay", {"on": DAY, "objects": Many(SHOWN), "due": Many(DUE)})
NEW_FORECAST = Record("NewForecast", {"years": Field(Number(0.1, 30), "how far to look ahead")})
