"""The soak of a visit: planned, changed, its logs brought and judged with a picture for each channel, and recorded."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_POST, require_safe

from kilter.exporters.soak_plan_file import soak_plan_text
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantities
from kilter.measure.tables import table
from kilter.planning.soak.schedule import false_alarms, proofs, stages
from kilter.services.tell_soak import told_soak
from kilter.store.models import Filing, SoakPlan, Visit
from kilter.store.models.attachment import SOAK_LOG
from kilter.store.verbs.files import DOING as BRINGING
from kilter.store.verbs.files import attach
from kilter.store.verbs.jobs import ask_for
from kilter.store.verbs.soaks import plan_soak_of, record_soak_finding, soak_logs, standing_finding, standing_plan
from kilter.web.access import page, person_of, visit_at
from kilter.web.forms import chosen_number, form_page
from kilter.web.media_types import media_type_of
from kilter.web.policy import HANDED_OVER
from kilter.web.soak_form import FIRST_ROWS, hours_in, rows_in, typed_rows
from kilter.web.soak_words import WORST, limits_words, reason_words, verdict_words
from kilter.wiring.record_bench import board_of
from kilter.wiring.record_soak import JOB, channels_of, is_long, judged, of_the_worker, proposed_for, rows_of

HEAD = 4096
FROM_BOARD = gettext_noop("made from the board")


@page()
def soak(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Plan, logs, verdict and what was recorded; without a plan, a form that makes one from the board."""
    found = visit_at(pk, number)

    def work() -> str:
        made = proposed_for(found, hours_in(request.POST.get("hours", "")), request.POST.get("state", ""))
        plan_soak_of(person_of(request), found, made.hours, rows_of(made.channels), state=made.state,
                     words=FROM_BOARD, supersedes=standing_plan(found))  # fmt: skip
        return reverse("soak", args=[pk, number])

    return form_page(request, "web/soak.html", work, _context(found))


@page()
def soak_plan(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The plan, or a new one, to be changed; the earlier plan is kept."""
    found = visit_at(pk, number)
    plan = standing_plan(found)

    def work() -> str:
        stands = chosen_number(request.POST.get("supersedes", ""), "supersedes", "Cannot change the plan")
        if stands != (plan.pk if plan else None):
            raise BadInput("Cannot change the plan", "a plan that was changed meanwhile", "the plan that stands",
                           "Open the form again.")  # fmt: skip
        typed = request.POST
        plan_soak_of(person_of(request), found, hours_in(typed.get("hours", "")), rows_in(typed),
                     state=typed.get("state", ""), words=typed.get("words", ""), supersedes=plan)  # fmt: skip
        return reverse("soak", args=[pk, number])

    first = {"hours": f"{plan.hours:g}", "state": plan.state} if plan else {}
    shown = request.POST if request.method == "POST" else None
    context = {"object": found.object, "visit": found, "plan": plan, "states": _states(found),
               "quantity_keys": [one.key for one in quantities().values() if one.numeric],
               "rows": typed_rows(shown, channels_of(plan) if plan else (), FIRST_ROWS)}  # fmt: skip
    return form_page(request, "web/soak_plan.html", work, context, typed=first)


@page()
@require_safe
def soak_plan_file(request: HttpRequest, pk: int, number: int) -> HttpResponse:  # noqa: ARG001
    """The plan as a text file, for the commands that log and judge."""
    found = visit_at(pk, number)
    plan = _plan(found)
    answer = HttpResponse(soak_plan_text(str(found), plan.hours, channels_of(plan)), content_type="application/toml")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename="soak-plan.toml") or ""
    return answer


@page("attach a file")
@require_POST
def bring_soak_log(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Keeps the logs of a form with the visit."""
    found = visit_at(pk, number)
    most = int(table("web")["upload"]["most_bytes"])
    brought = request.FILES.getlist("logs")
    if not brought:
        raise BadInput(BRINGING, "no file", "one log or more", "Choose a file.")
    for one in brought:  # before the first is kept: all of them or none
        if not 0 < (one.size or 0) <= most:
            raise BadInput(BRINGING, f"{one.size:,} bytes in '{(one.name or '')[:60]}'", f"1 to {most:,} bytes",
                           "Leave an empty file out; split a larger one where it was switched off.")  # fmt: skip
    for one in brought:
        head = one.read(HEAD)
        one.seek(0)
        attach(person_of(request), one, one.name or "", SOAK_LOG, media_type_of(head), visit=found, most=most)
    return HttpResponseRedirect(reverse("soak", args=[pk, number]))


@page("start long work")
@require_POST
def judge_soak_log(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Has long logs judged by the worker."""
    found = visit_at(pk, number)
    _plan(found)
    failures = chosen_number(request.POST.get("failures", ""), "failures", "Cannot judge the soak") or 0
    asked = ask_for(person_of(request), JOB, {"visit": found.pk, "failures": failures})
    return HttpResponseRedirect(reverse("job", args=[asked.pk]))


@page("record at the bench")
@require_POST
def record_soak(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Records the verdict of the logs as they are now; after a fault the page comes again with what was typed."""
    found = visit_at(pk, number)
    return form_page(request, "web/soak.html", lambda: _recorded(request, found), _context(found))


def _recorded(request: HttpRequest, found: Visit) -> str:
    plan, logs = _plan(found), soak_logs(found)
    failures = chosen_number(request.POST.get("failures", ""), "failures", "Cannot record what the soak told") or 0
    if is_long(logs):
        result = of_the_worker(found, plan, logs)
        if result is None:
            raise BadInput("Cannot record what the soak told", "logs that were not judged as they are now",
                           "logs that the worker has judged", "Have them judged first.")  # fmt: skip
        told, failures = result["soak"], result["failures"]
    else:
        told = told_soak(judged(plan, logs, failures).found)
    record_soak_finding(person_of(request), plan, logs, told, failures=failures, words=request.POST.get("words", ""),
                        supersedes=standing_finding(found))  # fmt: skip
    return reverse("soak", args=[found.object_id, found.number])


@page()
@require_safe
def soak_picture(request: HttpRequest, pk: int, number: int, session: int, channel: int) -> HttpResponse:  # noqa: ARG001
    """One channel of one log, with limits and cumulative sums."""
    from kilter.web.figures import svg_of
    from kilter.wiring.soak_plots import soak_figure

    found = visit_at(pk, number)
    logs = soak_logs(found)
    if not logs:
        raise Http404
    read = judged(_plan(found), logs)
    if session >= len(read.found.sessions) or channel >= len(read.found.sessions[session].channels):
        raise Http404
    one = read.found.sessions[session]
    row = one.channels[channel]
    drawn = svg_of(lambda: soak_figure([row], read.logs[session], f"{one.source}: {row.channel.name}"))
    response = HttpResponse(drawn, content_type="image/svg+xml")
    response["Content-Security-Policy"] = HANDED_OVER
    return response


def _plan(found: Visit) -> SoakPlan:
    plan = standing_plan(found)
    if plan is None:
        raise Http404
    return plan


def _states(found: Visit) -> list[Any]:
    edition = found.board_now()
    return [one for one in board_of(edition).states.values() if one.powered] if edition else []


def _context(found: Visit) -> dict[str, Any]:
    plan, logs, finding = standing_plan(found), soak_logs(found), standing_finding(found)
    context: dict[str, Any] = {
        "object": found.object, "visit": found, "plan": plan, "logs": logs, "is_open": found.is_open(),
        "states": _states(found), "finding": finding,
        "recorded": {"verdict": verdict_words(finding.verdict) if finding else ""},
        "earlier": found.soak_plans.filter(superseded_by__isnull=False).select_related("who__personal").order_by("-pk"),
    }  # fmt: skip
    if plan is not None:
        context |= {
            "channels": [{**row, "limits": limits_words(row, one.unit)} for row, one in
                         zip(plan.channels, channels_of(plan), strict=True)],
            "stages": stages(plan.hours), "would": proofs(plan.hours),
            "false_alarms": false_alarms(plan.hours, len(plan.channels)),
        }  # fmt: skip
        context |= _verdict(found, plan, logs) if logs else {}
    return context


def _verdict(found: Visit, plan: SoakPlan, logs: Sequence[Filing]) -> dict[str, Any]:
    """What the logs tell now, or that the worker has to be asked."""
    if is_long(logs):
        result = of_the_worker(found, plan, logs)
        if result is None:
            return {"long": True}
        told, by_worker = result["soak"], True
    else:
        try:
            told, by_worker = told_soak(judged(plan, logs).found), False
        except BadInput as error:
            return {"unreadable": error}
    recorded = standing_finding(found)
    same = recorded is not None and recorded.plan_id == plan.pk and [one["sha256"] for one in recorded.logs] == [
        one.attachment.sha256 for one in logs
    ]  # fmt: skip
    return {"told": told, "long": by_worker, "is_recorded": same, "worst": verdict_words(told["verdict"]),
            "sessions": [_session(found, place, one) for place, one in enumerate(told["sessions"])]}  # fmt: skip


def _session(found: Visit, place: int, told: dict[str, Any]) -> dict[str, Any]:
    rows = [
        {"channel": row["channel"], "verdict": verdict_words(row["verdict"]), "bad": row["verdict"] in WORST,
         "reason": reason_words(row), "values": row["values"], "limits": limits_words(row, row["unit"]),
         "picture": reverse("soak_picture", args=[found.object_id, found.number, place, number])}
        for number, row in enumerate(told["channels"])
    ]  # fmt: skip
    return {**told, "rows": rows}
