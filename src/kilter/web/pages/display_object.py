"""One object on display: hours, what is due, how far its parts are worn, what would pay, what it will need."""

from __future__ import annotations

import math
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from kilter.exporters.harmless import file_name
from kilter.measure.tables import table
from kilter.planning.display.course import course_of
from kilter.planning.display.showing import DisplayObject
from kilter.planning.display.usage import Rate
from kilter.planning.numbers import number
from kilter.services.display_plain import need_plain
from kilter.services.forecast_display import forecast
from kilter.services.plan_display import CAUTIONS
from kilter.services.stand_on_display import Standing
from kilter.services.worn_parts import Worn, worn_parts
from kilter.store.models import CollectionObject, DisplayInspection, DisplayPeriod, PartsRenewed, RunningEntry
from kilter.web.access import object_at, page
from kilter.web.hours_drawing import drawing_of
from kilter.web.pages.on_display import calendar_answer, due_row, today
from kilter.wiring.display_dates import YEARS, Now, display_now
from kilter.wiring.record_display import parts_of, replaced, wear_on_board


@page()
@require_safe
def display(request: HttpRequest, pk: int) -> HttpResponse:
    """The object's display page; where it never was on display, the way to put it there."""
    found, most = object_at(pk), int(table("web")["display"]["entries"])
    there = display_now(today())
    standing = there.standing_of(found.number)
    periods = DisplayPeriod.objects.standing().filter(object=found).select_related("who__personal").order_by("-begin")
    context: dict[str, Any] = {
        "object": found, "periods": periods, "standing": standing, "cautions": CAUTIONS,
        "parts": _parts(found), "renewed": _standing_rows(PartsRenewed, found)[:most],
        "replaced": [(row, list(kinds.items())) for row, kinds in replaced(found)],
        "entries": _standing_rows(RunningEntry, found)[:most],
        "inspections": _standing_rows(DisplayInspection, found)[:most], "share": number("display", "share"),
    }  # fmt: skip
    if standing is not None:
        context |= _shown(found, standing, there)
    return render(request, "web/display_object.html", context)


def _standing_rows(model: Any, found: CollectionObject) -> Any:
    return model.objects.standing().filter(object=found).select_related("who__personal").order_by("-day", "-pk")


def _shown(found: CollectionObject, standing: Standing, there: Now) -> dict[str, Any]:
    _, needs = forecast(there.showing, there.today, YEARS, only=found.number)
    own = [one for one in there.due if one.object == found.number]
    return {
        "due": [due_row(one, {found.number: found.pk}) for one in own],
        "courses": [_course(standing.thing, what, rate, there)
                    for what, rate in (("hours", standing.hours), ("switch_ons", standing.switch_ons))],
        "worn": [_worn(one) for one in worn_parts(there.showing, there.standings, found.number, there.today)],
        "advice": [one for one in there.advice if one.group.standing.thing.number == found.number],
        "needs": [need_plain(one) for one in needs], "years": YEARS,
    }  # fmt: skip


def _course(thing: DisplayObject, what: str, rate: Rate, there: Now) -> dict[str, Any]:
    """What was counted, drawn; hours that nobody knows are told as not known beside it."""
    stretches = (thing.stretches or {}).get(what, ())
    drawn = drawing_of(course_of(thing, rate, stretches, there.today)) if rate.known else None
    return {"what": what, "rate": rate, "drawing": drawn, "before": getattr(thing, f"{what}_before")}


def _worn(one: Worn) -> dict[str, Any]:
    """A row; what lasts beyond all that is told has no end."""
    ends = {name: value if math.isfinite(value) else None
            for name, value in (("low", one.low), ("middle", one.middle), ("high", one.high))}  # fmt: skip
    return {"worn": one, **ends}


def _parts(found: CollectionObject) -> list[dict[str, Any]]:
    """Kinds of wear with how many there are, and where that is from."""
    said = {row.kind: row for row in found.wearing_parts.standing().select_related("who__personal")}
    board = set(wear_on_board(found).values())
    kinds = table("planning/wear")
    return [{"kind": kind, "words": kinds[kind]["words"], "count": count, "said": said.get(kind),
             "board": kind in board} for kind, count in sorted(parts_of(found).items())]  # fmt: skip


@page()
@require_safe
def object_calendar(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001
    """What is due on this object as a calendar file."""
    found, there = object_at(pk), display_now(today())
    own = [one for one in there.due if one.object == found.number]
    return calendar_answer(there.showing.title, own, f"{file_name(found.number, 'object')}-on-display.ics")
