"""The power gate: what to look at before switching on, what each rail should read, and a name under it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.safety.first_power.ramp import Ramp
from kilter.services.plan_switch_on import CAUTIONS, SwitchOnPlan
from kilter.store.models import GateCheck, Visit
from kilter.store.verbs.visits import log_of
from kilter.web.access import page, person_of, visit_at
from kilter.web.forms import number_in
from kilter.web.gate_checks import record_checks, rows_of_checks
from kilter.wiring import power_gate
from kilter.wiring.record_bench import plan_of


@page()
@require_safe
def gate(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The checklist with its outcomes so far, the plan of the first switch-on, and who let power on."""
    found = visit_at(pk, number)
    return _shown(request, found, None)


def _shown(request: HttpRequest, found: Visit, error: BadInput | None) -> HttpResponse:
    log = log_of(found)
    context = {
        "object": found.object,
        "visit": found,
        "is_open": found.is_open(),
        "checks": rows_of_checks(request, found),
        "outcomes": GateCheck.OUTCOMES,
        "limits": table("power_checks")["limits"]["words"],
        "cautions": CAUTIONS,
        "gate": log.gate,
        "gate_person": found.entries.select_related("who__personal").filter(number=log.gate.number).first()
        if log.gate
        else None,
        "after": len(log.entries),
        "error": error,
        "typed": request.POST if error else {},
    }
    return render(request, "web/gate.html", context, status=400 if error else 200)


@page()
@require_safe
def switch_on_plan(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The plan of the first switch-on; it takes some seconds, so the checklist does not wait for it."""
    found = visit_at(pk, number)
    edition = found.board_now()
    plan, why_none = None, _("This visit has no board to work it out from.")
    if edition is not None:
        try:
            plan = _plan_view(plan_of(edition))
        except BadInput as raised:
            why_none = str(raised)
    context = {"object": found.object, "visit": found, "plan": plan, "why_none": why_none, "cautions": CAUTIONS}
    template = "web/plan_inside.html" if getattr(request, "htmx", False) else "web/plan.html"
    return render(request, template, context)


@page("record at the bench")
@require_POST
def take_checks(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Records the outcomes that were chosen; one that stands as it was is left alone."""
    found = visit_at(pk, number)
    try:
        record_checks(request, found)
    except BadInput as error:
        return _shown(request, found, error)
    return HttpResponseRedirect(reverse("gate", args=[pk, number]))


@page("pass the power checks")
@require_POST
def let_power_on(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Passes the gate where every check passed, or waives it with a reason; a name stands under either."""
    found = visit_at(pk, number)
    means, why = request.POST.get("means", ""), request.POST.get("why", "").strip()
    try:
        after = number_in(request, "after", power_gate.DOING)
        power_gate.let_power_on(person_of(request), found, means, why, after=after)
    except BadInput as error:
        return _shown(request, found, error)
    return HttpResponseRedirect(reverse("bench", args=[pk, number]))


def _plan_view(plan: SwitchOnPlan) -> dict[str, Any]:
    """The plan with its ramps as rows of words."""
    whole = _("Ramp with everything in place, to state '%s'") % plan.state
    bare = _("Ramp without %s") % ", ".join(plan.unplug)
    ramps = [(title, _ramp_view(ramp)) for title, ramp in ((bare, plan.bare), (whole, plan.whole)) if ramp is not None]
    return {"meter": plan.meter, "rails": plan.rails, "polarity": plan.polarity, "ramps": ramps, "dwell": plan.dwell,
            "why_none": "" if plan.whole else plan.why_none}  # fmt: skip


def _ramp_view(ramp: Ramp) -> dict[str, Any]:
    rails = list(ramp.steps[0].rails)
    rows = [
        [", ".join(f"{volts:.3g} V" for volts in one.volts.values()), f"{1e3 * one.limit:.0f} mA",
         "{:.0f} – {:.0f} mA".format(*(1e3 * amps for amps in one.current)),
         *("{:.2f} – {:.2f} V".format(*one.rails[rail]) for rail in rails)]
        for one in ramp.steps
    ]  # fmt: skip
    return {"rails": rails, "rows": rows}
