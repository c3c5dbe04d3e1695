"""The collection: a list that can be searched, and receiving an object."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.planning.accession import accession_states
from kilter.store.models import CollectionObject, KnownBoard
from kilter.store.models.collection import STATES
from kilter.store.search import find_objects
from kilter.store.verbs.objects import edit_object, receive_object
from kilter.web.access import object_at, page, person_of
from kilter.web.forms import form_page, number_in

FIELDS = ("number", "name", "kind", "made", "owner", "accession", "location", "state", "limits")


@page()
@require_safe
def collection(request: HttpRequest) -> HttpResponse:
    """Objects that hold the words searched for; the list alone where the page asks for it while one types."""
    words, state = request.GET.get("words", "")[:200], request.GET.get("state", "")
    state = state if state in STATES else ""
    found = find_objects(words, state=state).defer("search_text", "limits")
    rows = Paginator(found, int(table("web")["page"]["rows"])).get_page(request.GET.get("page"))
    context = {"rows": rows, "words": words, "state": state, "counts": _counts()}
    part = getattr(request, "htmx", False)
    return render(request, "web/collection_rows.html" if part else "web/collection.html", context)


def _counts() -> list[tuple[str, int]]:
    held = dict(CollectionObject.objects.order_by().values_list("state").annotate(Count("pk")))
    return [(state, held.get(state, 0)) for state in STATES]


@page("receive an object")
def receive(request: HttpRequest) -> HttpResponse:
    """A new object."""

    def work() -> str:
        found = receive_object(person_of(request), _typed(request), request.POST.get("why", ""))
        return reverse("object", args=[found.pk])

    return form_page(request, "web/object_form.html", work, {"new": True, **_choices()})


@page("change an object's entry")
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """A new edition of an object's entry."""
    found = object_at(pk)

    def work() -> str:
        edition = number_in(request, "edition", f"Cannot change the entry of {found.number}")
        edit_object(person_of(request), found, _typed(request), request.POST.get("why", ""), edition=edition)
        return reverse("object", args=[pk])

    typed = {name: getattr(found, name) for name in FIELDS}
    typed |= {"board": found.board.key if found.board else "", "edition": found.edition}
    return form_page(request, "web/object_form.html", work, {"object": found, **_choices()}, typed)


def _typed(request: HttpRequest) -> dict[str, Any]:
    key = request.POST.get("board", "")
    board = KnownBoard.objects.filter(key=key).first() if key else None
    if key and board is None:
        raise BadInput("Cannot take the entry", f"the board '{key[:60]}'", "a board that is known", "Choose it again.")
    return {**{name: request.POST.get(name, "") for name in FIELDS}, "board": board}


def _choices() -> dict[str, Any]:
    return {"states": STATES, "accessions": ("", *accession_states()), "boards": KnownBoard.objects.order_by("key")}
