"""Propose work, read a proposal with its answers, answer it, change it, withdraw it; record what was done."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kilter.measure.errors import BadInput, KilterError
from kilter.services.approvals import ACTS, GRADES, capacities
from kilter.store.models import CollectionObject, PartMove, Proposal, ProposalVersion, RemovedPart, Repair, Visit
from kilter.store.verbs.proposals import answer, change_proposal, propose, standing_of, withdraw_proposal
from kilter.store.verbs.repairs import make_safe, move_part, record_repair
from kilter.web.access import object_at, page, person_of
from kilter.web.forms import chosen_number, form_page, number_in
from kilter.web.trouble import status_of

TEXTS = ("part", "words", "reason", "alternatives", "undo")


@page("propose work")
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """A new proposal."""
    about = object_at(pk)

    def work() -> str:
        found = propose(person_of(request), about, _typed(request), _visit(request, about))
        return reverse("proposal", args=[found.pk])

    context = {"object": about, "acts": ACTS, "grades": GRADES, "visits": about.visits.order_by("-number")}
    return form_page(request, "web/proposal_form.html", work, context)


@page("propose work")
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """A new version; answers to earlier ones lapse."""
    proposal = get_object_or_404(Proposal.objects.select_related("object"), pk=pk)
    latest = proposal.latest()

    def work() -> str:
        change_proposal(person_of(request), proposal, _typed(request))
        return reverse("proposal", args=[pk])

    typed: dict[str, Any] = {name: getattr(latest, name) for name in (*TEXTS, "act", "grade")}
    typed["receiver"] = latest.receiver.number if latest.receiver else ""
    context = {"object": proposal.object, "proposal": proposal, "acts": ACTS, "grades": GRADES}
    return form_page(request, "web/proposal_form.html", work, context, typed)


@page()
@require_safe
def proposal(request: HttpRequest, pk: int) -> HttpResponse:
    """Every version with its answers, and how the latest stands."""
    return _shown(request, pk)


def _shown(request: HttpRequest, pk: int, error: KilterError | None = None) -> HttpResponse:
    """The page; after an error with what was typed."""
    found = get_object_or_404(Proposal.objects.select_related("object", "who__personal"), pk=pk)
    versions = list(found.versions.select_related("who__personal", "receiver").order_by("-version"))
    context = {
        "object": found.object,
        "proposal": found,
        "versions": [(one, one.approvals.select_related("who__personal").order_by("pk")) for one in versions],
        "latest": versions[0],
        "standing": standing_of(versions[0]),
        "ended": found.ends.select_related("who__personal").order_by("-pk").first(),
        "capacities": capacities(person_of(request).roles()),
        "error": error,
        "typed": request.POST,
    }
    return render(request, "web/proposal.html", context, status=status_of(error) if error else 200)


@page("answer a proposal")
@require_POST
def give_answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Consent or refusal, bound to the version that was read."""
    proposal, typed = get_object_or_404(Proposal, pk=pk), request.POST
    try:
        number = number_in(request, "version", "Cannot answer")
        version = get_object_or_404(ProposalVersion.objects.select_related("proposal__object"), proposal=proposal,
                                    version=number)  # fmt: skip
        answer(person_of(request), version, typed.get("capacity", ""), typed.get("decision", ""),
               typed.get("words", ""))  # fmt: skip
    except KilterError as error:
        return _shown(request, pk, error)
    return HttpResponseRedirect(reverse("proposal", args=[pk]))


@page("propose work")
@require_POST
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Ends a proposal that is no longer wanted."""
    found = get_object_or_404(Proposal.objects.select_related("object"), pk=pk)
    try:
        withdraw_proposal(person_of(request), found, request.POST.get("why", ""))
    except KilterError as error:
        return _shown(request, pk, error)
    return HttpResponseRedirect(reverse("proposal", args=[pk]))


@page()
def repair(request: HttpRequest, pk: int) -> HttpResponse:
    """Records what was done to an object."""
    about = object_at(pk)

    def work() -> str:
        typed, person, visit = request.POST, person_of(request), _visit(request, about)
        grade = number_in(request, "grade", "Cannot record the repair")
        if typed.get("act") == "made safe":
            words, fitted = typed.get("words", ""), typed.get("fitted", "").strip()
            make_safe(
                person, about, grade, f"{words}\n{_('Fitted')}: {fitted}" if fitted else words,
                part=typed.get("part", ""), visit=visit, version=_version(request, about), removed=_removed(request),
            )  # fmt: skip
        else:
            record_repair(
                person, about, typed.get("act", ""), grade, typed.get("words", ""), part=typed.get("part", ""),
                fitted=typed.get("fitted", ""), visit=visit, version=_version(request, about),
                removed=_removed(request),
            )  # fmt: skip
        return reverse("object", args=[pk])

    agreed = [one.latest() for one in about.proposals.filter(ends__isnull=True)]
    context = {"object": about, "acts": Repair.ACTS, "grades": GRADES, "visits": about.visits.order_by("-number"),
               "versions": [one for one in agreed if standing_of(one).allowed]}  # fmt: skip
    asked = {name: request.GET.get(name, "") for name in ("part", "visit")}
    return form_page(request, "web/repair_form.html", work, context, asked)


@page("move a removed part")
def move(request: HttpRequest, pk: int) -> HttpResponse:
    """Tells where a removed part went."""
    piece = get_object_or_404(RemovedPart.objects.select_related("object"), pk=pk)

    def work() -> str:
        typed = request.POST
        move_part(person_of(request), piece, typed.get("disposition", ""), typed.get("place", ""), typed.get("why", ""))
        return reverse("object", args=[piece.object_id])

    context = {"piece": piece, "object": piece.object, "dispositions": PartMove.DISPOSITIONS,
               "moves": piece.moves.select_related("who__personal").order_by("-pk")}  # fmt: skip
    return form_page(request, "web/piece.html", work, context)


def _typed(request: HttpRequest) -> dict[str, Any]:
    typed: dict[str, Any] = {name: request.POST.get(name, "") for name in (*TEXTS, "act")}
    typed["grade"] = number_in(request, "grade", "Cannot propose that")
    number = request.POST.get("receiver", "").strip()
    if number:
        typed["receiver"] = CollectionObject.objects.filter(number=number).first()
        if typed["receiver"] is None:
            raise BadInput("Cannot propose that", f"no object '{number[:60]}'", "the number of the object that gets it",
                           "Look it up in the collection.")  # fmt: skip
    return typed


def _visit(request: HttpRequest, about: CollectionObject) -> Visit | None:
    number = chosen_number(request.POST.get("visit", ""), "visit", "Cannot take the visit")
    return get_object_or_404(Visit, object=about, number=number) if number is not None else None


def _version(request: HttpRequest, about: CollectionObject) -> ProposalVersion | None:
    key = chosen_number(request.POST.get("version", ""), "version", "Cannot record the repair")
    if key is None:
        return None
    return get_object_or_404(ProposalVersion.objects.select_related("proposal__object"), pk=key, proposal__object=about)


def _removed(request: HttpRequest) -> dict[str, Any] | None:
    if not request.POST.get("removed"):
        return None
    original = {"yes": True, "no": False}.get(request.POST.get("original", ""))
    return {"number": request.POST.get("piece_number", ""), "words": request.POST.get("piece_words", ""),
            "place": request.POST.get("piece_place", ""), "original": original}  # fmt: skip
