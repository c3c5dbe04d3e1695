"""Short forms for objects on display: where it stands, hours, room, inspections, what wears, what was renewed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse

from kilter.planning.display.due import inspection_keys, inspections
from kilter.planning.display.models import wear_kinds
from kilter.store.models import (
    CollectionObject,
    DisplayInspection,
    DisplayPeriod,
    PartsRenewed,
    Repair,
    RunningEntry,
    WearingParts,
)
from kilter.store.verb import in_one_piece
from kilter.store.verbs.inspections import Inspected, take_inspection_back, write_inspection
from kilter.store.verbs.running import COUNT, METER, RAN, Ran, take_running_back, write_running
from kilter.store.verbs.showings import BOUNDS, SHOW, Showing, show, take_showing_back
from kilter.store.verbs.wearing import Renewal, set_wearing, take_renewal_back, take_wearing_back, write_renewal
from kilter.web.access import object_at, page, person_of
from kilter.web.forms import chosen_number, form_page
from kilter.web.pages.on_display import today
from kilter.web.typed_days import day_typed, number_typed, whole_typed

REPAIR = "record a repair"
COUNTS = ("hours", "switch_ons", "celsius", "humidity")
PERIOD, HOURS, INSPECTION = "Cannot write down the display", "Cannot write down the hours", "Cannot take the inspection"
WEAR, RENEWED = "Cannot write down what wears", "Cannot write down what was renewed"


@page(SHOW)
def put_on(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts it on display, or changes what was written about that; the end of it too."""
    found, typed = object_at(pk), request.POST
    old = _earlier(request, DisplayPeriod, found, PERIOD)

    def work() -> str:
        figures = {name: number_typed(typed.get(name, ""), name, PERIOD) for name in BOUNDS}
        told = Showing(
            day_typed(typed.get("begin", ""), "begin", PERIOD), day_typed(typed.get("end", ""), "end", PERIOD),
            typed.get("place", ""), typed.get("conditions", ""), figures,
        )  # fmt: skip
        show(person_of(request), found, told, typed.get("why", ""), supersedes=old)
        return reverse("display", args=[pk])

    names = ("begin", "end", "place", "conditions", *BOUNDS)
    at_first = _shown(old, names) if old else {"begin": today().isoformat(), "place": found.location}
    return form_page(request, "web/display_period_form.html", work, {"object": found, "old": old}, at_first)


@page(COUNT)
def write_hours(request: HttpRequest, pk: int) -> HttpResponse:
    """What the meter shows, what it did on some days, how warm and damp it was."""
    found, typed = object_at(pk), request.POST
    old = _earlier(request, RunningEntry, found, HOURS)

    def work() -> str:
        told, person = _ran(request), person_of(request)
        room = None
        if old is None and told.kind in (METER, RAN) and (told.celsius, told.humidity) != (None, None):
            room = Ran(RunningEntry.ROOM, told.day, celsius=told.celsius, humidity=told.humidity)
            told = replace(told, celsius=None, humidity=None)

        def once() -> None:
            with transaction.atomic():
                write_running(person, found, told, typed.get("why", ""), supersedes=old)
                if room is not None:
                    write_running(person, found, room)

        in_one_piece(HOURS, once)
        return reverse("display", args=[pk])

    names = ("kind", "day", "first", "anew", "words", *COUNTS)
    last = RunningEntry.objects.standing().filter(object=found, kind=METER).order_by("-day", "-pk").first()
    usual = RunningEntry.objects.standing().filter(object=found).exclude(kind=RunningEntry.ROOM).order_by("-pk").first()
    at_first = _shown(old, names) if old else {"day": today().isoformat(), "kind": usual.kind if usual else METER}
    context = {"object": found, "old": old, "kinds": RunningEntry.KINDS, "last": last}
    return form_page(request, "web/running_form.html", work, context, at_first)


def _ran(request: HttpRequest) -> Ran:
    """What was typed; a meter or days with the room beside them become two entries."""
    typed = request.POST
    number = {name: number_typed(typed.get(name, ""), name, HOURS) for name in COUNTS}
    day, first = (day_typed(typed.get(name, ""), name, HOURS) for name in ("day", "first"))
    return Ran(
        typed.get("kind", ""), day, first, number["hours"], number["switch_ons"], bool(typed.get("anew")),
        number["celsius"], number["humidity"], typed.get("words", ""),
    )  # fmt: skip


@page(COUNT)
def write_inspected(request: HttpRequest, pk: int) -> HttpResponse:
    """An inspection with what was found."""
    found, typed = object_at(pk), request.POST
    old = _earlier(request, DisplayInspection, found, INSPECTION)

    def work() -> str:
        told = Inspected(
            typed.get("key", ""), day_typed(typed.get("day", ""), "day", INSPECTION), typed.get("outcome", ""),
            typed.get("words", ""), typed.get("inspector", ""), day_typed(typed.get("again", ""), "again", INSPECTION),
        )  # fmt: skip
        write_inspection(person_of(request), found, told, typed.get("why", ""), supersedes=old)
        return reverse("display", args=[pk])

    names = ("key", "day", "outcome", "words", "inspector", "again")
    at_first = _shown(old, names) if old else {"day": today().isoformat(), "key": request.GET.get("key", "")}
    context = {"object": found, "old": old, "keys": _keys(), "outcomes": DisplayInspection.OUTCOMES}
    return form_page(request, "web/inspection_form.html", work, context, at_first)


def _keys() -> list[tuple[str, str, str]]:
    """Key, words, and what to look for, of everything that can be inspected."""
    rows = [(row["key"], row["words"], "") for row in inspections()]
    kinds = wear_kinds()
    looks = [key for key in inspection_keys() if key.startswith("look at ")]
    for key in looks:
        kind = kinds[key.removeprefix("look at ")]
        rows.append((key, kind.words, kind.look[1] if kind.look else ""))
    return rows


@page(SHOW)
def say_what_wears(request: HttpRequest, pk: int) -> HttpResponse:
    """How many parts of a kind of wear there are."""
    found, typed = object_at(pk), request.POST

    def work() -> str:
        count = whole_typed(typed.get("count", ""), "count", WEAR)
        set_wearing(person_of(request), found, typed.get("kind", ""), -1 if count is None else count,
                    typed.get("words", ""))  # fmt: skip
        return reverse("display", args=[pk])

    at_first = {"kind": request.GET.get("kind", "")}
    return form_page(request, "web/wearing_form.html", work, {"object": found, "kinds": _kinds()}, at_first)


@page(REPAIR)
def say_what_was_renewed(request: HttpRequest, pk: int) -> HttpResponse:
    """How many parts of a kind were renewed, perhaps by a repair that is recorded."""
    found, typed = object_at(pk), request.POST
    old = _earlier(request, PartsRenewed, found, RENEWED)
    key = chosen_number(typed.get("repair") or request.GET.get("repair", ""), "repair", RENEWED)
    repair = get_object_or_404(Repair, pk=key, object=found) if key is not None else old.repair if old else None

    def work() -> str:
        count = whole_typed(typed.get("count", ""), "count", RENEWED)
        told = Renewal(
            typed.get("kind", ""), day_typed(typed.get("day", ""), "day", RENEWED), count or 0,
            whole_typed(typed.get("failed", ""), "failed", RENEWED), typed.get("words", ""), repair,
        )  # fmt: skip
        write_renewal(person_of(request), found, told, typed.get("why", ""), supersedes=old)
        return reverse("display", args=[pk])

    at_first = {"day": (repair.at.date() if repair else today()).isoformat(), "words": repair.words if repair else ""}
    at_first = _shown(old, ("kind", "day", "count", "failed", "words")) if old else at_first
    context = {"object": found, "old": old, "kinds": _kinds(), "repair": repair}
    return form_page(request, "web/renewal_form.html", work, context, at_first)


def _kinds() -> list[tuple[str, str]]:
    return [(kind.key, kind.words) for kind in wear_kinds().values()]


BACK: dict[str, tuple[Any, Callable[..., Any]]] = {
    "stretch": (DisplayPeriod, take_showing_back),
    "hours": (RunningEntry, take_running_back),
    "inspection": (DisplayInspection, take_inspection_back),
    "wear": (WearingParts, take_wearing_back),
    "renewed": (PartsRenewed, take_renewal_back),
}
"""Word in the address to the rows and the verb that takes one back."""


@page()
def take_row_back(request: HttpRequest, what: str, pk: int) -> HttpResponse:
    """Takes an entry about the display back, with a reason."""
    if what not in BACK:
        raise Http404
    model, verb = BACK[what]
    row = get_object_or_404(model.objects.select_related("object"), pk=pk)

    def work() -> str:
        verb(person_of(request), row, request.POST.get("why", ""))
        return reverse("display", args=[row.object_id])

    return form_page(request, "web/display_back.html", work, {"row": row, "what": what, "object": row.object})


def _earlier(request: HttpRequest, model: Any, found: CollectionObject, doing: str) -> Any:
    """The entry that is to be corrected; None for a new one."""
    key = chosen_number(request.POST.get("supersedes") or request.GET.get("supersedes") or "", "supersedes", doing)
    return get_object_or_404(model, pk=key, object=found) if key is not None else None


def _shown(row: Any, names: tuple[str, ...]) -> dict[str, Any]:
    """Fields of a row as they stand in a form; nothing for what nobody knows."""
    return {name: _in_field(getattr(row, name)) for name in names}


def _in_field(value: Any) -> Any:
    if value is None or value is False:
        return ""
    if isinstance(value, float):
        return f"{value:.6g}" if abs(value) < 1e6 else f"{value:.0f}"
    return value.isoformat() if isinstance(value, date) else value
