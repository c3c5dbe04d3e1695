"""Known boards: what is known about each type, in editions."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from kilter.importers.load import load_board
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.services.board_drawing import draw_board
from kilter.store.models import BoardEdition, KnownBoard
from kilter.store.verbs.boards import MOST_BYTES, keep_board
from kilter.web.access import page, person_of
from kilter.web.forms import form_page
from kilter.wiring.record_bench import board_of
from kilter.wiring.try_board import try_files


@page()
@require_safe
def boards(request: HttpRequest) -> HttpResponse:
    """All of them."""
    rows = [(one, one.latest(), one.specimens.count()) for one in KnownBoard.objects.order_by("key")]
    return render(request, "web/boards.html", {"rows": rows})


@page()
@require_safe
def board(request: HttpRequest, key: str) -> HttpResponse:
    """One of them: its drawing, points, parts and editions."""
    found = get_object_or_404(KnownBoard, key=key)
    latest = found.latest()
    editions = found.editions.select_related("who__personal").order_by("-edition")
    context = {"known": found, "latest": latest, "editions": editions,
               "specimens": found.specimens.order_by("number")[:200], "error": None}  # fmt: skip
    try:
        loaded = board_of(latest)
        context |= {"board": loaded, "drawing": draw_board(loaded, {})}
    except BadInput as error:
        context["error"] = error
    return render(request, "web/board.html", context)


@page("keep a board")
def keep(request: HttpRequest, key: str = "") -> HttpResponse:
    """A new board, or a new edition; the files are tried before they are kept."""
    known = get_object_or_404(KnownBoard, key=key) if key else None
    last: BoardEdition | None = known.latest() if known else None

    def work() -> str:
        doing = "Cannot keep the board"
        brought = request.FILES.getlist("files")
        most = min(MOST_BYTES, int(table("web")["upload"]["most_bytes"]))
        if not brought or sum(one.size or 0 for one in brought) > most:
            raise BadInput(doing, f"{len(brought)} files", f"one file or more, {most:,} bytes at most together",
                           "Choose the files of the board's folder.")  # fmt: skip
        files = {one.name or "": one.read() for one in brought}
        main = request.POST.get("main", "").strip() or ("board.toml" if "board.toml" in files else next(iter(files)))
        tried = try_files(files, main, load_board)
        title = request.POST.get("title", "").strip() or tried.name
        name = key or request.POST.get("key", "").strip()
        if name == "new":
            raise BadInput(doing, f"the key '{name}'", "a key of its own: an address of these pages is called so",
                           "Choose another key.")  # fmt: skip
        edition = keep_board(person_of(request), name, title, main, files, request.POST.get("why", ""))
        return reverse("board", args=[edition.board.key])

    typed = {"title": last.title, "main": last.main} if last else {}
    return form_page(request, "web/board_form.html", work, {"known": known}, typed)
