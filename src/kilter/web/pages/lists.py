"""A list of objects brought as a table: first what it would do, then, where one says so, all of it or nothing."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from kilter.importers.object_table import Change, changes, read_objects
from kilter.measure.errors import BadInput, KilterError
from kilter.records.dossier import ObjectFields
from kilter.store.models import CollectionObject, KnownBoard, Person
from kilter.store.models.collection import STATES
from kilter.store.verb import in_one_piece
from kilter.store.verbs.objects import edit_object, receive_object
from kilter.web.access import page, person_of
from kilter.web.forms import TAKEN
from kilter.web.trouble import status_of
from kilter.wiring.record_dossier import fields_of

DOING = "Cannot take the list"
ENDINGS = (".csv", ".xlsx")
MOST_BYTES = 32 << 20
SHOWN = 500


@page("receive an object")
@require_http_methods(TAKEN)
def bring_list(request: HttpRequest) -> HttpResponse:
    """Reads the table and shows what it would do; with the box ticked, does it."""
    context: dict[str, Any] = {"typed": request.POST, "error": None}
    if request.method == "POST":
        try:
            context |= _taken(request)
        except KilterError as error:
            context["error"] = error
    status = status_of(context["error"]) if context["error"] else 200
    return render(request, "web/list.html", context, status=status)


def _taken(request: HttpRequest) -> dict[str, Any]:
    brought = request.FILES.get("file")
    ending = Path(getattr(brought, "name", "") or "").suffix.lower()
    if brought is None or ending not in ENDINGS or (brought.size or 0) > MOST_BYTES:
        allowed = f"one file, {' or '.join(ENDINGS)}, {MOST_BYTES:,} bytes at most"
        raise BadInput(DOING, f"'{getattr(brought, 'name', '') or 'no file'}'", allowed, "Choose the file.")
    with tempfile.TemporaryDirectory(prefix="kilter-list-") as folder:
        path = Path(folder) / f"list{ending}"
        path.write_bytes(brought.read())
        table = read_objects(path)
    known = {one.number: fields_of(one) for one in CollectionObject.objects.select_related("board")}
    found = changes(table.rows, known)
    told: dict[str, Any] = {"errors": table.errors[:SHOWN],
            "changes": [one for one in found if one.verb != "same"][:SHOWN],
            "counts": {word: sum(one.verb == word for one in found) for word in ("new", "other", "same")}}  # fmt: skip
    if request.POST.get("really"):
        if table.errors:
            raise BadInput(DOING, f"{len(table.errors)} rows that cannot be taken", "a list without them",
                           "Correct the rows, look again, then write.")  # fmt: skip
        told["written"] = _write(person_of(request), found, request.POST.get("why", ""))
    return told


def _write(person: Person, found: tuple[Change, ...], why: str) -> int:
    """All rows in one transaction."""
    wanted = [one for one in found if one.verb != "same"]

    def once() -> int:
        with transaction.atomic():
            for one in wanted:
                _write_row(person, one, why)
        return len(wanted)

    return in_one_piece(DOING, once)


def _write_row(person: Person, one: Change, why: str) -> None:
    fields = one.row.fields
    try:
        if one.verb == "new":
            receive_object(person, _fields(fields), why)
            return
        about = CollectionObject.objects.select_related("board").get(number=fields.number)
        now = {name: value for name, value in _fields(fields).items() if name in one.other}
        edit_object(person, about, now, why)
    except BadInput as error:
        raise BadInput(DOING, f"{error.found} at {one.row.place}", error.allowed, error.do_next) from None


def _fields(fields: ObjectFields) -> dict[str, Any]:
    told: dict[str, Any] = {name: getattr(fields, name) for name in ObjectFields.__dataclass_fields__}
    key = fields.board.partition(",")[0].strip()
    told["board"] = KnownBoard.objects.filter(key=key).first() if key else None
    if key and told["board"] is None:
        raise BadInput(DOING, f"the board '{key[:60]}'", "a board that is known, or nothing", "Keep the board first.")
    told["state"] = fields.state or STATES[0]
    return told
