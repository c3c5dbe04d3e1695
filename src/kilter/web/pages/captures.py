"""A capture or a thermal picture that was brought: what it tells, drawn, and its readings put into the visit."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_safe

from kilter.importers.captures.read_capture import read_capture
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.read_capture import analyse_capture, scope_readings
from kilter.services.visit_log import READ
from kilter.services.wording import said
from kilter.signals.waveform import Capture
from kilter.store.models import Filing, Visit
from kilter.store.verbs.files import file_store
from kilter.store.verbs.visits import add_entry, log_of
from kilter.web.access import page, person_of
from kilter.web.figures import svg_of
from kilter.web.forms import form_page
from kilter.web.policy import HANDED_OVER
from kilter.wiring.record_bench import board_of

DOING = "Cannot put the capture's readings into the visit"


@page()
def capture(request: HttpRequest, pk: int) -> HttpResponse:
    """What every channel tells; with a board, a form that says where each was connected."""
    filing = _filing(pk)
    try:
        found = _read(filing)
        views = analyse_capture(found)
    except BadInput as error:
        return form_page(request, "web/capture.html", lambda: "", {"filing": filing, "object": filing.object,
                                                                   "unreadable": error})  # fmt: skip
    visit = filing.visit
    edition = visit.board_now() if visit else None
    board = board_of(edition) if edition else None

    def work() -> str:
        if visit is None or board is None:
            raise BadInput(DOING, "a file without a visit that has a board", "a file of such a visit",
                           "Bring the file to the visit.")  # fmt: skip
        placed = {view.name: request.POST.get(f"at-{place}", "").strip() for place, view in enumerate(views)}
        placed = {name: point for name, point in placed.items() if point}
        if not placed:
            raise BadInput(DOING, "no channel with a point", "one at least", "Say where a channel was connected.")
        made = scope_readings(found, views, board, said=placed, state=request.POST.get("state", ""))
        if not made.readings:
            why = "; ".join(f"{name}: {words}" for name, words in made.silent.items() if name in placed)
            raise BadInput(DOING, f"nothing that the board can weigh ({why})", "channels at points of the board",
                           "Choose other points, or take the readings by hand.")  # fmt: skip
        _put(request, visit, filing, made.readings)
        return reverse("bench", args=[visit.object_id, visit.number])

    context = {
        "filing": filing, "object": filing.object, "visit": visit, "board": board,
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
    rows = Filing.objects.select_related("attachment", "object", "visit__object", "visit__board_edition")
    return get_object_or_404(rows, pk=pk, kind="capture", withdrawn=False)


def _read(filing: Filing) -> Capture:
    """The file under the name it came with, for its ending tells its form; the name is never used as a path."""
    import tempfile

    with tempfile.TemporaryDirectory(prefix="kilter-capture-") as folder:
        path = Path(folder) / f"capture{Path(filing.name).suffix[:12]}"
        path.symlink_to(file_store().path(filing.attachment.sha256).resolve())
        try:
            return read_capture(path)
        except BadInput as error:
            parts = (one.replace(f"{folder}/", "").replace(path.name, filing.name) for one in
                     (error.doing, error.found, error.allowed, error.do_next))  # fmt: skip
            raise BadInput(*parts) from None


def _shown(view: Any) -> dict[str, Any]:
    results = view.analysis.results if view.analysis else {}
    return {"name": view.name, "unread": view.unread, "results": [(key, str(value)) for key, value in results.items()]}


def _put(request: HttpRequest, visit: Visit, filing: Filing, readings: tuple[Reading, ...]) -> None:
    log = log_of(visit)
    if any(visit_state_powered(visit, one) for one in readings) and not log.power_checks:
        raise BadInput(DOING, "readings with power on before the power checks", "checks that were passed or waived",
                       "Go through the checks first.")  # fmt: skip
    for number, one in enumerate(readings, len(log.entries)):
        words = {"point": one.point, "quantity": one.quantity, "value": said(one), "state": one.state,
                 "instrument": one.instrument, "note": f"from {filing.name}"}  # fmt: skip
        told = {key: word for key, word in words.items() if word}
        add_entry(person_of(request), visit, READ, told, one, after=number)


def visit_state_powered(visit: Visit, reading: Reading) -> bool:
    """Whether a reading was taken with power on."""
    edition = visit.board_now()
    return edition is not None and board_of(edition).state(reading.state).powered
