"""What the collection has taught: odds, calls that came true, minutes, and every lesson; learning as a job."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from kilter.diagnose.learned_odds import number as odds_number
from kilter.diagnose.learned_odds_counts import bands
from kilter.measure.errors import BadInput
from kilter.services.experience import ACCEPTED, WITHDRAWN, Entry, Experience
from kilter.services.permissions import demand
from kilter.store.models import Person
from kilter.store.verbs.jobs import ask_for
from kilter.store.verbs.learned import WITHDRAW
from kilter.web.access import page, person_of, visit_at
from kilter.web.forms import form_page
from kilter.web.learned_view import calibration_view, entries_view, entry_view, odds_view, times_view
from kilter.wiring.record_bench import learned_at, posterior_without, session_of
from kilter.wiring.record_experience import RecordExperience
from kilter.wiring.record_lessons import stock_of
from kilter.wiring.worker import LEARNING

LISTED = 200


@page()
@require_safe
def learned(request: HttpRequest) -> HttpResponse:
    """The whole of it; where the record was tampered with, why none of it counts."""
    band = request.GET.get("age", "")
    try:
        experience = RecordExperience().read()
    except BadInput as error:
        return render(request, "web/learned.html", {"damaged": error})
    chosen = band if band in bands() else ""
    context = {
        "stock": stock_of(experience),
        "kinds": odds_view(experience, chosen),
        "band": chosen,
        "bands": bands(),
        "interval": odds_number("interval"),
        "others": [one for one in experience.standing() if one.kind == ACCEPTED],
        "calibration": calibration_view(experience.calls()),
        "times": times_view(experience.times()),
        "entries": entries_view(experience, _people(experience))[:LISTED],
        "more": max(len(experience.entries) - LISTED, 0),
    }
    return render(request, "web/learned.html", context)


@page("learn from visits")
@require_POST
def learn_now(request: HttpRequest) -> HttpResponse:
    """Puts learning from every visit that is due in the queue."""
    asked = ask_for(person_of(request), LEARNING, {"who": request.user.pk})
    return HttpResponseRedirect(reverse("job", args=[asked.pk]))


@page()
def lesson(request: HttpRequest, number: int) -> HttpResponse:
    """One entry with all its figures, and a form that withdraws it."""
    if request.method == "POST":
        demand(person_of(request).roles(), WITHDRAW)
    experience = RecordExperience().read()
    found = entry_at(experience, number)

    def work() -> str:
        keeper = RecordExperience(person_of(request))
        keeper.add(experience, WITHDRAWN, experience.withdrawal(number, request.POST.get("why", "")))
        return reverse("learned")

    stands = found in experience.standing()
    context = {"entry": entry_view(found, stands=stands, people=_people(experience)), "counts": found.counts}
    return form_page(request, "web/lesson.html", work, context)


@page()
@require_safe
def without_learned(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The suspects of a visit with what was learned and without it, side by side."""
    found = visit_at(pk, number)
    with session_of(found, person_of(request)) as session:
        known = {one.part: one.probability for one in session.diagnosis().suspects}
        plain = posterior_without(session)
        parts = {**known, **{part: share for part, share in plain.items() if share >= min(known.values(), default=0.0)}}
        rows = [{"part": part, "with": known.get(part, 0.0), "without": plain.get(part, 0.0)} for part in parts]
    context: dict[str, Any] = {"object": found.object, "visit": found, "learned": learned_at(found),
                               "rows": sorted(rows, key=lambda row: -row["with"])}  # fmt: skip
    return render(request, "web/without_learned.html", context)


def entry_at(experience: Experience, number: int) -> Entry:
    """The entry at an address."""
    if not 1 <= number <= len(experience.entries):
        raise Http404
    return experience.entries[number - 1]


def _people(experience: Experience) -> dict[str, str]:
    rows = Person.objects.select_related("personal").filter(key__in={one.who for one in experience.entries})
    return {one.key: one.name for one in rows}
