"""A temperature picture that was brought: its parts, how warm they are, and their readings put into the visit."""

from __future__ import annotations

import re
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_safe

from kilter.circuit.board import Board
from kilter.exporters.heat_picture import heat_png
from kilter.measure.errors import BadInput
from kilter.services.place_thermal import Mark
from kilter.services.read_thermal import thermal_part_readings
from kilter.services.visit_log import VisitLog
from kilter.store.models import BoardEdition, Filing
from kilter.store.verbs.visits import log_of
from kilter.thermal.figures import surfaces
from kilter.thermal.units import unit_keys
from kilter.web.access import page, person_of
from kilter.web.file_readings import DOING as PUTTING
from kilter.web.file_readings import put_into_visit, standing_entries, taken_from
from kilter.web.forms import form_page
from kilter.web.heat_drawing import draw_heat, ends_of
from kilter.web.policy import HANDED_OVER
from kilter.web.thermal_look import KIND, Look, expected_rises, image_of, look_at
from kilter.web.thermal_rows import cautions_of, off_parts, rows_of
from kilter.web.thermal_said import DOING, Said, said_of, say
from kilter.web.typed_figures import in_bench_notation
from kilter.wiring.record_bench import board_of

PLAIN_NUMBER = re.compile(r"[+-]?(\d{1,9}(\.\d{0,9})?|\.\d{1,9})")
WIDEST, MOST_ZOOM = 640, 4
"""A picture to point at is drawn up to so many pixels wide, each of its own at most so large."""


@page()
def thermal(request: HttpRequest, pk: int) -> HttpResponse:
    """The picture with its parts, what was said of it, and the forms for both."""
    filing = _filing(pk)
    edition = _edition(filing)
    board = board_of(edition) if edition is not None else None
    acts = {"say": _say, "mark": _mark, "remove": _remove, "put": _put}

    def work() -> str:
        act = acts.get(request.POST.get("act", ""))
        if act is None:
            raise BadInput(DOING, f"'{request.POST.get('act', '')[:40]}'", ", ".join(acts),
                           "Use the buttons of the page.")  # fmt: skip
        return act(request, filing, board, edition)

    return form_page(request, "web/thermal.html", work, _context(request, filing, board, edition))


@page()
@require_safe
def heat_picture(request: HttpRequest, pk: int) -> HttpResponse:
    """The temperatures in colours; with 'marks' larger, and with a cross at each mark."""
    filing = _filing(pk)
    try:
        said = said_of(filing)
        image = image_of(filing, said)
    except BadInput:
        raise Http404 from None
    large = "marks" in request.GET
    crosses = [(one.x, one.y) for one in said.marks] if large else ()
    low, high = ends_of(image)
    drawn = heat_png(image.celsius, low, high, zoom_of(image.celsius.shape[1]) if large else 1, crosses)
    response = HttpResponse(drawn, content_type="image/png")
    response["Content-Security-Policy"] = HANDED_OVER
    return response


def zoom_of(width: int) -> int:
    """How many pixels of the screen a pixel of the picture takes where one points at it."""
    return max(1, min(MOST_ZOOM, WIDEST // width))


def _filing(pk: int) -> Filing:
    named = ("attachment", "object__board", "visit__object", "visit__board_edition")
    return get_object_or_404(Filing.objects.standing().select_related(*named), pk=pk, kind=KIND)


def _edition(filing: Filing) -> BoardEdition | None:
    """The board that the visit works with, else the object's."""
    if filing.visit is not None:
        return filing.visit.board_now()
    about = filing.object
    return about.board.latest() if about is not None and about.board is not None else None


def _context(
    request: HttpRequest, filing: Filing, board: Board | None, edition: BoardEdition | None
) -> dict[str, Any]:
    said, visit = said_of(filing), filing.visit
    powered = [one for one in board.states.values() if one.powered] if board is not None else []
    told: dict[str, Any] = {
        "filing": filing, "object": filing.object, "visit": visit, "board": board, "said": said, "states": powered,
        "units": unit_keys(), "surfaces": list(surfaces().values()), "taken": standing_entries(filing),
        "others": _others(filing), "parts": list(board.parts.values()) if board is not None else [],
    }  # fmt: skip
    try:
        look, beside = look_at(filing, edition)
    except BadInput as error:
        return {**told, "unreadable": error}
    state = request.POST.get("state") or request.GET.get("state", "")
    state = state if state in {one.name for one in powered} else powered[0].name if powered else ""
    model = expected_rises(edition, state, tuple(look.parts)) if edition is not None and state else {}
    chosen = request.POST.getlist("part") if request.POST.get("act") == "put" else None
    rows = rows_of(look, beside, model, _known(filing), chosen)
    height, width = look.image.celsius.shape
    zoom = zoom_of(width)
    return {
        **told, "look": look, "beside": beside, "rows": rows, "first": [one for one in rows if one["first"]],
        "others_placed": [one for one in rows if not one["first"]], "cautions": cautions_of(rows), "state": state,
        "size": (width, height), "placing": _placing(look),
        "drawing": draw_heat(look, off_parts(rows)), "large": (width * zoom, height * zoom),
    }  # fmt: skip


def _placing(look: Look) -> dict[str, Any] | None:
    """How the marks fit; plain, for a template would call what can be called."""
    found = look.placed.placing
    return {"marks": len(found.residuals), "error": found.error} if found is not None else None


def _known(filing: Filing) -> frozenset[str]:
    """Parts of which the picture gave its visit a reading that stands."""
    log = log_of(filing.visit) if filing.visit is not None else VisitLog()
    return frozenset(one.reading.point for one in taken_from(log, filing) if one.reading is not None)


def _others(filing: Filing) -> list[Filing]:
    """Temperature pictures of the same visit, which may be those from before power."""
    if filing.visit is None:
        return []
    rows = filing.visit.filings.standing().filter(kind=KIND).select_related("attachment").order_by("pk")
    return [one for one in rows if one.attachment_id != filing.attachment_id]


def _say(request: HttpRequest, filing: Filing, _: Board | None, __: BoardEdition | None) -> str:
    typed = request.POST
    before = typed.get("before", "")
    if before and before not in {one.attachment.sha256 for one in _others(filing)}:
        raise BadInput(DOING, "a picture before power that is none of this visit's", "a picture of the list",
                       "Choose it again.")  # fmt: skip
    old = said_of(filing)
    ambient = _number(typed.get("ambient", ""), "surroundings") if typed.get("ambient", "").strip() else None
    told = Said(typed.get("unit", ""), ambient, before, old.marks)
    image_of(filing, told)  # what cannot be read so is not written down
    say(person_of(request), filing, told)
    return _here(filing)


def _mark(request: HttpRequest, filing: Filing, board: Board | None, _: BoardEdition | None) -> str:
    typed = request.POST
    ref = typed.get("part", "")
    if board is None or ref not in board.parts:
        raise BadInput(DOING, f"the part '{ref[:40]}'", "a part of the board", "Choose it from the list.")
    said = said_of(filing)
    height, width = image_of(filing, said).celsius.shape
    pointed = "spot.x" in typed and not (typed.get("x", "").strip() or typed.get("y", "").strip())
    zoom = zoom_of(width) if pointed else 1
    x, y = (_number(typed.get(f"spot.{axis}" if pointed else axis, ""), axis) / zoom for axis in ("x", "y"))
    x, y = (x - 0.5, y - 0.5) if pointed else (x, y)
    if not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5):
        raise BadInput(DOING, f"the pixel {x:g}, {y:g}", f"0 to {width - 1} and 0 to {height - 1}",
                       "Point at the picture, or type a pixel of it.")  # fmt: skip
    say(person_of(request), filing, said.with_mark(Mark(ref, x, y, typed.get("surface", ""))))
    return _here(filing)


def _remove(request: HttpRequest, filing: Filing, _: Board | None, __: BoardEdition | None) -> str:
    said, ref = said_of(filing), request.POST.get("part", "")
    if ref not in {one.ref for one in said.marks}:
        raise BadInput(DOING, f"no mark of '{ref[:40]}'", "a part that is marked", "Look at what is marked now.")
    say(person_of(request), filing, said.without(ref))
    return _here(filing)


def _put(request: HttpRequest, filing: Filing, board: Board | None, edition: BoardEdition | None) -> str:
    if filing.visit is None or board is None:
        raise BadInput(PUTTING, "a picture without a visit that has a board", "a picture of such a visit",
                       "Bring the picture to the visit, and give the visit a board.")  # fmt: skip
    refs = request.POST.getlist("part")
    if not refs:
        raise BadInput(PUTTING, "no part", "one part or more", "Tick the parts that are meant.")
    state = board.state(request.POST.get("state", ""))
    if not state.powered:
        raise BadInput(PUTTING, f"the state '{state.name}', with power off", "a state with power on",
                       "Name the state that the picture was taken in.")  # fmt: skip
    look: Look = look_at(filing, edition)[0]
    put_into_visit(person_of(request), filing, thermal_part_readings(look.parts, refs, state.name))
    return reverse("bench", args=[filing.visit.object_id, filing.visit.number])


def _number(text: str, name: str) -> float:
    words = in_bench_notation(text.strip()).replace(",", ".").replace("−", "-")
    if not PLAIN_NUMBER.fullmatch(words):
        raise BadInput(DOING, f"'{text[:40]}' under '{name}'", "a number such as 23.5", "Type it anew.")
    return float(words)


def _here(filing: Filing) -> str:
    return reverse("thermal", args=[filing.pk])
