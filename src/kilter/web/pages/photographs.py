"""A photograph shown, and parts placed on it by pointing."""

from __future__ import annotations

from io import BytesIO

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_safe

from kilter.measure.errors import BadInput
from kilter.store.models import Filing
from kilter.store.models.attachment import PLACES
from kilter.store.verbs.files import attach
from kilter.web.access import page, person_of
from kilter.web.forms import form_page
from kilter.web.photo_places import MOST_MATCHES, Match, matches_of, places_name, shown, written
from kilter.web.policy import HANDED_OVER
from kilter.wiring.record_bench import board_of

DOING = "Cannot place the part on the photograph"
SHOWN_KINDS = ("photograph", "photograph before", "photograph after", "thermal picture")


def _filing(pk: int) -> Filing:
    rows = Filing.objects.select_related("attachment", "object__board")
    return get_object_or_404(rows, pk=pk, kind__in=SHOWN_KINDS, withdrawn=False)


@page()
@require_safe
def picture(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001
    """The photograph upright and small, without the place where it was taken."""
    filing = _filing(pk)
    try:
        found = shown(filing.attachment.sha256, filing.kind)
    except BadInput:
        raise Http404 from None
    response = HttpResponse(found.data, content_type="image/jpeg")
    response["Content-Security-Policy"] = HANDED_OVER
    response["Cache-Control"] = "private, max-age=86400"
    return response


@page("attach a file")
def places(request: HttpRequest, pk: int) -> HttpResponse:
    """Parts placed so far, and the photograph to point at: the press of a picture button tells where it was pressed."""
    filing = _filing(pk)
    about = filing.object
    if about is None or about.board is None:
        raise BadInput(DOING, "an object without a board", "an object whose board is known",
                       "Name the board in the object's entry.")  # fmt: skip
    board = board_of(about.board.latest())
    found = shown(filing.attachment.sha256, filing.kind)
    known = matches_of(filing)

    def work() -> str:
        kept = [one for one in known if one[0] != request.POST.get("remove", "")]
        if "spot.x" in request.POST:
            kept = [one for one in kept if one[0] != request.POST.get("part", "")]
            kept.append(_match(request, found.width, found.height, set(board.parts)))
        if len(kept) > MOST_MATCHES:
            raise BadInput(DOING, f"{len(kept)} places", f"at most {MOST_MATCHES}", "A handful of them will do.")
        name = places_name(filing.attachment.sha256)
        attach(person_of(request), BytesIO(written(kept)), name, PLACES, "application/json", about=about)
        return reverse("places", args=[pk])

    able = [one for one in board.parts.values() if one.position is not None]
    context = {"filing": filing, "object": about, "picture": found, "matches": known, "parts": able}
    return form_page(request, "web/places.html", work, context)


def _match(request: HttpRequest, width: int, height: int, parts: set[str]) -> Match:
    part = request.POST.get("part", "")
    if part not in parts:
        raise BadInput(DOING, f"the part '{part[:40]}'", "a part of the board", "Choose it from the list.")
    spot = []
    for name, most in (("spot.x", width), ("spot.y", height)):
        text = request.POST.get(name, "")
        if not text.isascii() or not text.isdecimal() or len(text) > 9 or int(text) > most:
            raise BadInput(DOING, f"'{text[:20]}' under {name}", f"0 to {most} pixels", "Point at the photograph.")
        spot.append(float(text))
    return part, spot[0], spot[1]
