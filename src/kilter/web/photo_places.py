"""Photographs as pages show them, and where parts are on them."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Any

from kilter.circuit.board import Board
from kilter.exporters.pictures import Picture, picture
from kilter.measure.errors import BadInput
from kilter.records.dossier import Attachment
from kilter.services.board_drawing import Drawing, on_photograph
from kilter.store.models import CollectionObject, Filing
from kilter.store.models.attachment import PLACES
from kilter.store.verbs.files import file_store

MOST_BYTES, MOST_MATCHES = 100_000, 200
Match = tuple[str, float, float]


@lru_cache(maxsize=24)
def shown(sha256: str, kind: str) -> Picture:
    """
    A photograph upright, small enough for a page, and without what a camera writes about its place.

    Raises:
        BadInput: It is no picture that can be read.
        NotAvailable: There is no reader of pictures on this machine.
    """
    found = picture(Attachment(sha256, kind, sha256, path=file_store().path(sha256)))
    if isinstance(found, str):
        raise BadInput("Cannot show the picture", found, "JPEG, PNG, WebP, TIFF, BMP or GIF", "Fetch the file instead.")
    return found


def matches_of(filing: Filing) -> list[Match]:
    """Parts and where they are on a photograph, as shown; the latest that was written down."""
    sha256 = filing.attachment.sha256
    rows = Filing.objects.filter(object=filing.object, kind=PLACES, name=places_name(sha256), withdrawn=False)
    last = rows.select_related("attachment").order_by("-pk").first()
    return _read(last) if last is not None else []


def places_name(sha256: str) -> str:
    """Under what name the places of a photograph are filed."""
    return f"places-{sha256[:40]}.json"


def written(matches: list[Match]) -> bytes:
    """The places as they are filed."""
    return json.dumps({"kilter_places": 1, "matches": matches}, ensure_ascii=False).encode("utf-8")


def _read(filing: Filing) -> list[Match]:
    with file_store().open(filing.attachment.sha256) as file:
        told: dict[str, Any] = json.loads(file.read(MOST_BYTES))
    return [(str(name), float(x), float(y)) for name, x, y in told["matches"]]


def behind(about: CollectionObject, board: Board, drawing: Drawing | None) -> Drawing | None:
    """The drawing with the object's own photograph behind it, where parts were placed on one."""
    if drawing is None:
        return None
    named = set(about.filings.filter(kind=PLACES, withdrawn=False).values_list("name", flat=True))
    rows = about.filings.standing().filter(kind="photograph")
    for one in rows.select_related("attachment").order_by("-pk") if named else ():
        if places_name(one.attachment.sha256) not in named:
            continue
        try:
            found = shown(one.attachment.sha256, one.kind)
        except BadInput:
            continue
        placed = on_photograph(drawing, board, matches_of(one), found.width, found.height, f"/file/{one.pk}/picture/")
        if placed.photo is not None:
            return placed
    return drawing
