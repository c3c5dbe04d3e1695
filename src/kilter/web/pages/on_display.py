"""Everything on display: what is due, what runs, failures and spares for the years ahead; calendar and wall list."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from kilter.exporters.calendar_file import calendar_file
from kilter.exporters.wall_list import wall_list
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.planning.display.due import Due, interval_of
from kilter.planning.numbers import number
from kilter.services.plan_display import CAUTIONS, DisplayPlan, plan_display
from kilter.store.journal import now
from kilter.store.models import CollectionObject, DisplayPeriod, Job, JournalRow
from kilter.store.models.job import DONE, RUNNING, WAITING
from kilter.store.verbs.jobs import ask_for
from kilter.web.access import page, person_of
from kilter.web.forms import TAKEN
from kilter.web.policy import HANDED_OVER
from kilter.wiring.display_dates import YEARS, Now, display_now, forecast_record
from kilter.wiring.worker import FORECAST

CALENDAR = "text/calendar; charset=utf-8"
DOING = "Cannot look ahead"


def today() -> date:
    """The day, UTC."""
    return now().date()


@page()
@require_safe
def on_display(request: HttpRequest) -> HttpResponse:
    """What is due, over its day first, and every object on display with its hours."""
    there = display_now(today())
    keys = dict(CollectionObject.objects.filter(display_periods__isnull=False).values_list("number", "pk"))
    rows = Paginator(there.due, int(table("web")["page"]["rows"])).get_page(request.GET.get("page"))
    places = {one.object_id: one.place for one in DisplayPeriod.objects.standing().order_by("begin")}
    first = {one.object: one for one in reversed(there.due)}
    context = {
        "due": [due_row(one, keys) for one in rows], "rows": rows, "over": sum(one.over for one in there.due),
        "objects": [{"standing": one, "pk": keys[one.thing.number], "next": first.get(one.thing.number),
                     "place": places.get(keys[one.thing.number], "")} for one in there.standings],
        "cautions": CAUTIONS,
    }  # fmt: skip
    return render(request, "web/on_display.html", context)


def due_row(one: Due, keys: dict[str, int]) -> dict[str, Any]:
    """A thing to do, with the page of its object and where its interval comes from."""
    source = interval_of(one.key)[1:] if one.months else ("", "")
    return {"due": one, "pk": keys[one.object], "kind": source[0], "source": source[1]}


@page()
@require_safe
def calendar(request: HttpRequest) -> HttpResponse:  # noqa: ARG001
    """What is due as a calendar file."""
    there = display_now(today())
    return calendar_answer(there.showing.title, there.due, "on-display.ics")


def calendar_answer(title: str, dates: Iterable[Due], name: str) -> HttpResponse:
    """A calendar file; its events keep their names, which no other record gives."""
    first = JournalRow.objects.order_by("number").values_list("hash", flat=True).first() or ""
    response = HttpResponse(calendar_file(title, dates, datetime.now(UTC), house=first), content_type=CALENDAR)
    response["Content-Disposition"] = content_disposition_header(True, name) or "attachment"
    return response


@page()
@require_safe
def wall(request: HttpRequest) -> HttpResponse:
    """A list to print, hang up and sign."""
    there, years = display_now(today()), _years(request.GET.get("years", ""))
    response = HttpResponse(wall_list(_plan(there, years)), content_type="text/html; charset=utf-8")
    response["Content-Security-Policy"] = HANDED_OVER
    return response


def _plan(there: Now, years: float) -> DisplayPlan:
    """With the forecast where it is quickly worked out; else with the list alone."""
    if at_once(there):
        return plan_display(there.showing, there.today, years)
    return DisplayPlan(there.showing, there.today, years, there.standings, (), there.advice, there.due)


@page()
@require_http_methods(TAKEN)
def look_ahead(request: HttpRequest) -> HttpResponse:
    """Failures and spares: at once where that is quick, else as long work whose last answer is shown."""
    there, years = display_now(today()), _years(request.GET.get("years", "") or request.POST.get("years", ""))
    if request.method == "POST":
        job = ask_for(person_of(request), FORECAST, {"years": years})
        return HttpResponseRedirect(reverse("job", args=[job.pk]))
    asked = Job.objects.filter(kind=FORECAST, wishes__years=years).order_by("-pk")
    last = None if at_once(there) else asked.filter(state=DONE).first()
    context = {
        "years": years, "ahead": int(years), "choices": table("web")["display"]["years"],
        "share": number("display", "share"),
        "found": forecast_record(years, there.today) if at_once(there) else last.result if last else None,
        "last": last, "at_once": at_once(there), "cautions": CAUTIONS,
        "waiting": asked.filter(state__in=(WAITING, RUNNING)).first(), "objects": len(there.standings),
    }  # fmt: skip
    return render(request, "web/look_ahead.html", context)


def at_once(there: Now) -> bool:
    """Whether a forecast takes less than a second."""
    return there.groups <= int(table("web")["display"]["groups_at_once"])


def _years(text: str) -> float:
    choices = table("web")["display"]["years"]
    if not text:
        return YEARS
    if text not in {str(one) for one in choices}:
        raise BadInput(DOING, f"'{text[:40]}' years", ", ".join(str(one) for one in choices), "Choose one of these.")
    return float(text)
