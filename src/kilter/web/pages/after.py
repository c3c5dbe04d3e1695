"""What follows a diagnosis: cures side by side, and the proof that a repair holds."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from kilter.measure.errors import BadInput
from kilter.planning.numbers import number as planned
from kilter.planning.proof.decide import ACCEPTED, CANNOT_TELL, OPEN, REJECTED
from kilter.services.prove_repair import CAUTIONS, Proved, limit_words
from kilter.services.weigh_options import CAUTION
from kilter.services.wording import said
from kilter.store.verbs.jobs import ask_for
from kilter.web.access import page, person_of, visit_at
from kilter.web.policy import HANDED_OVER
from kilter.wiring.record_bench import session_of
from kilter.wiring.record_cures import JOB, at_work, cures_at, cures_found, takes_long
from kilter.wiring.record_proof import proof_of

LISTED = 12


@page()
@require_safe
def cures(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """
    Cures for the suspects beside one more test and leaving the object; a choice becomes a proposal.

    On a large board that the bench has not weighed, the worker is offered; '?now' has the page wait instead.
    """
    found = visit_at(pk, number)
    with session_of(found, person_of(request)) as session:
        long = takes_long(session)
        weighed = cures_found(found) if long else None
        if weighed is None and long and "now" not in request.GET:
            context = {"object": found.object, "visit": found, "job": at_work(found)}
            return render(request, "web/cures_later.html", context)
        weighed = weighed or cures_at(session)
    least = planned("repair_options", "least_helps")
    shown = [one for one in weighed["options"] if one["helps"] >= least]
    context = {
        "object": found.object,
        "visit": found,
        "weighed": weighed,
        "choices": [{**one, "parts": " + ".join(one["parts"])} for one in shown[:LISTED]],
        "hidden": len(weighed["options"]) - len(shown[:LISTED]),
        "caution": CAUTION,
    }
    return render(request, "web/cures.html", context)


@page("start long work")
@require_POST
def work_out_cures(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Has the worker work them out; work that is under way already is not asked for twice."""
    found = visit_at(pk, number)
    if found.board_now() is None:
        raise BadInput("Cannot work out cures", "a visit without a board", "a visit with a board",
                       "Name the board in the object's entry, then give the visit that board.")  # fmt: skip
    job = at_work(found) or ask_for(person_of(request), JOB, {"visit": found.pk})
    return HttpResponseRedirect(reverse("job", args=[job.pk]))


@page()
@require_safe
def proof(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The acceptance list made from the visit: every point that the fault could have moved, rails, clocks, outputs."""
    found = visit_at(pk, number)
    with session_of(found, person_of(request)) as session:
        judged = proof_of(session)
    counts = [(word, judged.count(word)) for word in (ACCEPTED, REJECTED, CANNOT_TELL, OPEN)]
    context = {"object": found.object, "visit": found, "judged": judged, "counts": counts, "cautions": CAUTIONS,
               "rows": [_row(one) for one in judged.items]}  # fmt: skip
    return render(request, "web/proof.html", context)


@page()
@require_safe
def proof_picture(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The same drawn, as SVG; '?narrow' for a telephone."""
    from kilter.web.figures import svg_of
    from kilter.wiring.proof_plots import NARROW, WIDE, proof_figure

    found = visit_at(pk, number)
    with session_of(found, person_of(request)) as session:
        judged = proof_of(session)
    layout = NARROW if "narrow" in request.GET else WIDE
    response = HttpResponse(svg_of(lambda: proof_figure(judged, layout)), content_type="image/svg+xml")
    response["Content-Security-Policy"] = HANDED_OVER
    return response


def _row(one: Proved) -> dict[str, Any]:
    test = one.item.test
    return {"point": test.point, "quantity": test.quantity, "state": test.state, "limits": limit_words(one.item),
            "source": one.item.source, "said": said(one.reading) if one.reading else "", "verdict": one.verdict,
            "words": one.words, "bad": one.verdict == REJECTED}  # fmt: skip
