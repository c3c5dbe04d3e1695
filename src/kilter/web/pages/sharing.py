"""Experience for other collections and theirs: choose and look, then sign; look, then accept; whose files are taken."""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kilter.exporters.shared_files import write_boards, write_readings
from kilter.measure.errors import BadInput, KilterError
from kilter.measure.tables import table
from kilter.services.experience import ACCEPTED, EXPORTED, Experience
from kilter.store.models import BoardEdition, KnownBoard, KnownSharer
from kilter.store.verbs.learned import SHARE, forget_sharer, know_sharer
from kilter.web.access import page, person_of
from kilter.web.forms import TAKEN, form_page
from kilter.web.learned_view import entry_view
from kilter.web.pages.learned import entry_at
from kilter.web.trouble import status_of
from kilter.wiring.record_experience import RecordExperience
from kilter.wiring.record_sharing import (
    MEDIA_TYPE,
    Choice,
    accept_shared,
    file_that_went_out,
    good_specimens,
    known_sharers,
    look_at_shared,
    make_key,
    outgoing,
    own_key,
    today,
    write_shared,
)

OUT, IN = "Cannot share", "Cannot accept the shared file"


@page()
@require_safe
def sharing(request: HttpRequest) -> HttpResponse:
    """The own key, whose files are taken, what went out and what came in."""
    context: dict[str, Any] = {"sharers": KnownSharer.objects.standing().order_by("name"), "own_key": own_key()}
    try:
        experience = RecordExperience().read()
    except BadInput as error:
        return render(request, "web/sharing.html", {**context, "damaged": error})
    standing = {one.number for one in experience.standing()}
    for name, kind in (("came", ACCEPTED), ("went", EXPORTED)):
        rows = [one for one in reversed(experience.entries) if one.kind == kind]
        context[name] = [entry_view(one, stands=one.number in standing, people={}) for one in rows]
    return render(request, "web/sharing.html", context)


@page(SHARE)
@require_POST
def make_own_key(request: HttpRequest) -> HttpResponse:
    """Makes the key that the collection signs with."""
    make_key(person_of(request))
    return HttpResponseRedirect(reverse("sharing"))


@page(SHARE)
@require_http_methods(TAKEN)
def share_out(request: HttpRequest) -> HttpResponse:
    """Choose what goes out and look at it, word for word; with the box ticked, sign it."""
    experience, error, found = RecordExperience().read(), None, None
    if request.method == "POST":
        try:
            choice = _choice(request)
            found = outgoing(experience, choice, today(), own_key() or "0" * 64)
            if request.POST.get("really"):
                entry, _ = write_shared(person_of(request), choice, today())
                return HttpResponseRedirect(reverse("lesson", args=[entry.number]))
        except KilterError as raised:
            error = raised
    typed = request.POST
    chosen = set(typed.getlist("kinds")) if request.method == "POST" else None
    counted = sorted({one.kind for one in experience.own()})
    context = {
        "own_key": own_key(),
        "licences": table("sharing/limits")["licences"]["value"],
        "least": table("sharing/limits")["least_objects"]["value"],
        "kinds": [(kind, chosen is None or kind in chosen) for kind in counted],
        "boards": [(one, typed.get(f"title-{one.pk}", ""), bool(typed.get(f"board-{one.pk}"))) for one in _editions()],
        "specimens": [(one, one.board_now(), str(one.pk) in typed.getlist("good")) for one in good_specimens()],
        "found": found,
        "text": found.content.decode() if found else "",
        "typed": typed,
        "error": error,
    }
    return render(request, "web/share_out.html", context, status=status_of(error) if error else 200)


@page(SHARE)
@require_http_methods(TAKEN)
def take_in(request: HttpRequest) -> HttpResponse:
    """What a file of another collection would add and change, or why it is refused; with the box ticked, accept it."""
    context: dict[str, Any] = {"error": None, "known": bool(known_sharers())}
    if request.method == "POST":
        try:
            data = _brought(request)
            if request.POST.get("really"):
                entry, _ = accept_shared(person_of(request), data, known_sharers(), today())
                return HttpResponseRedirect(reverse("lesson", args=[entry.number]))
            context["body"], context["moved"] = look_at_shared(data, known_sharers(), today())
        except KilterError as error:
            context["error"] = error
    status = status_of(context["error"]) if context["error"] else 200
    return render(request, "web/take_in.html", context, status=status)


@page(SHARE)
def new_sharer(request: HttpRequest) -> HttpResponse:
    """Puts another collection's key on the list."""

    def work() -> str:
        typed = request.POST
        know_sharer(person_of(request), typed.get("name", ""), typed.get("key", ""), _trust(request),
                    typed.get("why", ""))  # fmt: skip
        return reverse("sharing")

    return form_page(request, "web/sharer.html", work)


@page(SHARE)
def sharer(request: HttpRequest, pk: int) -> HttpResponse:
    """Another name or trust for a key, or off the list with it."""
    found = get_object_or_404(KnownSharer, pk=pk)

    def work() -> str:
        typed = request.POST
        if typed.get("act") == "forget":
            forget_sharer(person_of(request), found, typed.get("why", ""))
        else:
            know_sharer(person_of(request), typed.get("name", ""), found.key, _trust(request), typed.get("why", ""),
                        supersedes=found)  # fmt: skip
        return reverse("sharing")

    typed = {"name": found.name, "trust": f"{100 * found.trust:.0f}"}
    return form_page(request, "web/sharer.html", work, {"sharer": found}, typed)


@page(SHARE)
@require_safe
def shared_file(request: HttpRequest, number: int) -> HttpResponse:  # noqa: ARG001
    """A file for others, as it was signed."""
    entry = _entry(number, EXPORTED)
    answer = HttpResponse(file_that_went_out(entry), content_type=MEDIA_TYPE)
    answer["Content-Disposition"] = f'attachment; filename="shared-{entry.body["sequence"]}.kilter"'
    return answer


@page()
@require_safe
def shared_boards(request: HttpRequest, number: int) -> HttpResponse:  # noqa: ARG001
    """Boards and known-good readings of an accepted file, as files in one archive."""
    entry, archive = _entry(number, ACCEPTED), io.BytesIO()
    with tempfile.TemporaryDirectory(prefix="kilter-shared-") as folder, zipfile.ZipFile(archive, "w") as pack:
        where = Path(folder)
        for path in (*write_boards(where, entry.body, str(entry.body["name"])), *write_readings(where, entry.body)):
            pack.write(path, path.name)
    answer = HttpResponse(archive.getvalue(), content_type="application/zip")
    answer["Content-Disposition"] = f'attachment; filename="shared-boards-{number}.zip"'
    return answer


def _entry(number: int, kind: str) -> Any:
    experience: Experience = RecordExperience().read()
    found = entry_at(experience, number)
    if found.kind != kind or (kind == EXPORTED and "file" not in found.body):
        raise Http404
    return found


def _editions() -> list[BoardEdition]:
    return [one.latest() for one in KnownBoard.objects.order_by("key")]


def _choice(request: HttpRequest) -> Choice:
    typed = request.POST
    boards = {one: typed.get(f"title-{one.pk}", "") for one in _editions() if typed.get(f"board-{one.pk}")}
    untold = [one.board.key for one in _editions() if one not in boards and typed.get(f"title-{one.pk}", "").strip()]
    if untold:
        raise BadInput(OUT, f"a title for {', '.join(untold)}, which is not ticked", "a title with its board",
                       "Tick the board, or take the title out.")  # fmt: skip
    good = set(typed.getlist("good"))
    return Choice(typed.get("licence", ""), frozenset(typed.getlist("kinds")), boards,
                  tuple(one for one in good_specimens() if str(one.pk) in good))  # fmt: skip


def _brought(request: HttpRequest) -> bytes:
    brought, most = request.FILES.get("file"), int(table("sharing/limits")["most_bytes"]["value"])
    if brought is None or (brought.size or 0) > most:
        raise BadInput(IN, "no file" if brought is None else f"{brought.size:,} bytes",
                       f"one file, {most:,} bytes at most", "Choose the file.")  # fmt: skip
    return bytes(brought.read())


def _trust(request: HttpRequest) -> float:
    """Per cent."""
    text = request.POST.get("trust", "").strip()
    try:
        return float(text.replace(",", ".").rstrip("% ")) / 100.0
    except ValueError:
        raise BadInput("Cannot put the key on the list", f"'{text[:40]}' as trust", "0 to 100 per cent",
                       "Type it anew.") from None  # fmt: skip
