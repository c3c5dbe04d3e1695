"""One visit: its entries, its files, and opening, closing and the board it works with."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from kilter.measure.errors import KilterError
from kilter.services.visit_log import UNDONE
from kilter.services.wording import said
from kilter.store.models import BoardEdition, Visit
from kilter.store.models.attachment import KINDS as FILE_KINDS
from kilter.store.verbs.visits import entry_of, set_visit
from kilter.web.access import page, person_of, visit_at
from kilter.web.forms import chosen_number
from kilter.web.trouble import status_of


@page()
@require_safe
def visit(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """The visit's page."""
    return _shown(request, pk, number)


def _shown(request: HttpRequest, pk: int, number: int, error: KilterError | None = None) -> HttpResponse:
    """The page; after an error with what was typed."""
    found = visit_at(pk, number)
    rows = found.entries.select_related("who__personal").order_by("number")
    undone = {row.words.get("entry") for row in rows if row.kind == UNDONE}
    context = {
        "object": found.object,
        "visit": found,
        "entries": [(row, words_of(row), str(row.number) in undone) for row in rows],
        "checks": found.checks.filter(superseded_by__isnull=True).select_related("who__personal").order_by("pk"),
        "events": found.events.select_related("who__personal", "board_edition__board").order_by("pk"),
        "filings": found.filings.standing().select_related("attachment"),
        "file_kinds": FILE_KINDS,
        "editions": _editions(found),
        "edition": found.board_now(),
        "is_open": found.is_open(),
        "error": error,
        "typed": request.POST,
    }
    return render(request, "web/visit.html", context, status=status_of(error) if error else 200)


def words_of(row: object) -> str:
    """An entry in words: what was read, or what was typed."""
    entry = entry_of(row)  # type: ignore[arg-type]
    if entry.reading is not None:
        return said(entry.reading)
    return entry.words.get("note", "") or (f"entry {entry.words['entry']}" if "entry" in entry.words else "")


def _editions(found: Visit) -> list[BoardEdition]:
    board = found.object.board
    return list(board.editions.order_by("-edition")) if board is not None else []


@page("record at the bench")
@require_POST
def change_visit(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Closes or reopens it, or gives it another board edition."""
    found = visit_at(pk, number)
    try:
        key = chosen_number(request.POST.get("edition", ""), "edition", "Cannot change the visit")
        edition = get_object_or_404(BoardEdition, pk=key, board=found.object.board) if key is not None else None
        set_visit(person_of(request), found, request.POST.get("kind", ""), request.POST.get("why", ""), edition)
    except KilterError as error:
        return _shown(request, pk, number, error)
    return HttpResponseRedirect(reverse("visit", args=[pk, number]))
