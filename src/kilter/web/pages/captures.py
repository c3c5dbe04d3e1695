"""A capture that was brought: what it tells, drawn, and its readings put into the visit."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_safe

from kilter.importers.captures.read_capture import read_capture
from kilter.measure.errors import BadInput
from kilter.services.read_capture import analyse_capture, scope_readings
from kilter.signals.waveform import Capture
from kilter.store.models import Filing
from kilter.web.access import page, person_of
from kilter.web.figures import svg_of
from kilter.web.file_readings import DOING, put_into_visit, standing_entries
from kilter.web.forms import form_page
from kilter.web.policy import HANDED_OVER
from kilter.wiring.kept_file import read_kept
from kilter.wiring.record_bench import board_of


@page()
def capture(request: HttpRequest, pk: int) -> HttpResponse:
    """What every channel tells; with a board, a form that says where each was connected."""
    filing = _filing(pk)
    try:
        found = _read(filing)
        views = analyse_capture(found)
    except BadInput as error:
        told = {"filing": filing, "object": filing.object, "unreadable": error}
        return form_page(request, "web/capture.html", partial(_refused, error), told)
    visit = filing.visit
    edition = visit.board_now() if visit else None
    board = board_of(edition) if edition else None

    def work() -> str:
        if visit is None or board is None:
            raise BadInput(DOING, "a file without a visit that has a board", "a file of such a visit",
                           "Bring the file to the visit, and give the visit a board.")  # fmt: skip
        placed = {view.name: request.POST.get(f"at-{place}", "").strip() for place, view in enumerate(views)}
        placed = {name: point for name, point in placed.items() if point}
        if not placed:
            raise BadInput(DOING, "no channel with a point", "one at least", "Say where a channel was connected.")
        made = scope_readings(found, views, board, said=placed, state=request.POST.get("state", ""))
        silent = "; ".join(f"{name}: {words}" for name, words in made.silent.items() if name in placed)
        if silent:
            raise BadInput(DOING, f"nothing that the board can weigh ({silent})", "channels at points of the board",
                           "Choose another point, leave that channel out, or take its reading by hand.")  # fmt: skip
        put_into_visit(person_of(request), filing, made.readings)
        return reverse("bench", args=[visit.object_id, visit.number])

    context = {
        "filing": filing, "object": filing.object, "visit": visit, "board": board,
        "taken": standing_entries(filing),
        "views": [
            {**_shown(view), "at": request.POST.get(f"at-{place}", "")} for place, view in enumerate(views)
        ],
        "states": [one for one in board.states.values() if one.powered] if board else [],
    }  # fmt: skip
    return form_page(request, "web/capture.html", work, context)


@page()
@require_safe
def capture_picture(request: HttpRequest, pk: int, channel: int) -> HttpResponse:  # noqa: ARG001
    """One channel drawn."""
    from kilter.wiring.waveform_plots import waveform_figure

    found = _read(_filing(pk))
    if not 0 <= channel < len(found.waveforms):
        raise Http404
    view = analyse_capture(found)[channel]
    wave = found.waveforms[channel]
    response = HttpResponse(svg_of(lambda: waveform_figure(wave, view.analysis)), content_type="image/svg+xml")
    response["Content-Security-Policy"] = HANDED_OVER
    return response


def _filing(pk: int) -> Filing:
    named = ("attachment", "object", "visit__object", "visit__board_edition")
    return get_object_or_404(Filing.objects.standing().select_related(*named), pk=pk, kind="capture")


def _read(filing: Filing) -> Capture:
    return read_kept(filing.attachment.sha256, filing.name, read_capture)


def _refused(error: BadInput) -> str:
    raise error


def _shown(view: Any) -> dict[str, Any]:
    results = view.analysis.results if view.analysis else {}
    return {"name": view.name, "unread": view.unread, "results": [(key, str(value)) for key, value in results.items()]}

