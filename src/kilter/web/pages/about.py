"""One object: its entry, what is said about it, its visits, files, proposals, repairs and removed parts."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from kilter.measure.errors import BadInput
from kilter.store.models import BoardEdition, JournalRow, Statement
from kilter.store.models.attachment import KINDS as FILE_KINDS
from kilter.store.verbs.statements import state, take_back
from kilter.store.verbs.visits import open_visit
from kilter.web.access import object_at, page, person_of
from kilter.web.forms import chosen_number, form_page

HEADINGS = ("hazard", "significance", "history", "condition", "diagnosis", "seen", "open question", "note")


@page()
@require_safe
def about(request: HttpRequest, pk: int) -> HttpResponse:
    """The object's page."""
    found = object_at(pk)
    told: dict[str, list[Statement]] = {kind: [] for kind in HEADINGS}
    for one in found.statements.standing().select_related("who__personal").order_by("pk"):
        told[one.kind].append(one)
    context = {
        "object": found,
        "told": [(kind, rows) for kind, rows in told.items() if rows],
        "visits": found.visits.select_related("who__personal").order_by("-number"),
        "filings": found.filings.standing().filter(visit__isnull=True, kind__in=FILE_KINDS).select_related("attachment")
        .order_by("pk"),
        "file_kinds": FILE_KINDS,
        "proposals": [(one, one.latest(), one.ends.order_by("-pk").first()) for one in found.proposals.order_by("-pk")],
        "repairs": found.repairs.select_related("who__personal").order_by("-pk"),
        "pieces": found.removed_parts.order_by("pk"),
        "statement_kinds": HEADINGS,
    }
    return render(request, "web/object.html", context)


@page()
@require_safe
def history(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything that was ever written about the object, superseded or not, and the journal's lines."""
    found = object_at(pk)
    context = {
        "object": found,
        "editions": found.editions.select_related("who__personal").order_by("-edition"),
        "statements": found.statements.select_related("who__personal").order_by("-pk"),
        "journal": JournalRow.objects.filter(what=f"object {found.number}").order_by("-number")[:500],
    }
    return render(request, "web/history.html", context)


@page("write about an object")
def say(request: HttpRequest, pk: int) -> HttpResponse:
    """Writes something down about the object, perhaps in place of an earlier statement."""
    found = object_at(pk)
    earlier = request.POST.get("supersedes") or request.GET.get("supersedes") or ""
    key = chosen_number(earlier, "supersedes", "Cannot write that down")
    old = get_object_or_404(Statement, pk=key, object=found) if key is not None else None

    def work() -> str:
        typed = request.POST
        state(
            person_of(request), found, typed.get("kind", ""), typed.get("text", ""), source=typed.get("source", ""),
            reliability=_reliability(typed.get("reliability", "")), when=typed.get("when", ""),
            part=typed.get("part", ""), mode=typed.get("mode", ""), supersedes=old,
        )  # fmt: skip
        return reverse("object", args=[pk])

    names = ("kind", "text", "source", "when", "part", "mode")
    typed = {name: getattr(old, name) for name in names} if old else {"kind": request.GET.get("kind", "note")}
    if old is not None and old.reliability is not None:
        typed["reliability"] = f"{100 * old.reliability:.0f}"
    return form_page(request, "web/statement_form.html", work, {"object": found, "old": old, "kinds": HEADINGS}, typed)


def _reliability(text: str) -> float | None:
    """Per cent, or nothing where nobody judged it."""
    if not text.strip():
        return None
    try:
        return float(text.replace(",", ".").rstrip("% ")) / 100.0
    except ValueError:
        raise BadInput("Cannot write that down", f"'{text[:40]}' as reliability", "0 to 100 per cent, or nothing",
                       "Type it anew.") from None  # fmt: skip


@page("write about an object")
def take_statement_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes a statement back, with a reason."""
    statement = get_object_or_404(Statement.objects.select_related("object"), pk=pk)

    def work() -> str:
        take_back(person_of(request), statement, request.POST.get("why", ""))
        return reverse("object", args=[statement.object_id])

    return form_page(request, "web/take_back.html", work, {"statement": statement, "object": statement.object})


@page("open a visit")
def open_one(request: HttpRequest, pk: int) -> HttpResponse:
    """Begins a visit."""
    found = object_at(pk)

    def work() -> str:
        key = chosen_number(request.POST.get("edition", ""), "edition", "Cannot open a visit")
        edition = get_object_or_404(BoardEdition, pk=key, board=found.board) if key is not None else None
        visit = open_visit(
            person_of(request), found, request.POST.get("reason", ""), edition=edition,
            not_working=bool(request.POST.get("not_working")), known_good=bool(request.POST.get("known_good")),
            instruments=",".join(request.POST.getlist("instruments")),
        )  # fmt: skip
        return reverse("visit", args=[pk, visit.number])

    from kilter.measure.instruments import instruments

    return form_page(
        request, "web/visit_form.html", work, {"object": found, "instruments": instruments().values()},
        {"not_working": "on"},
    )  # fmt: skip
