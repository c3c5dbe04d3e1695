"""A dossier from what a person names on the command line: a board, a visit file, photographs."""

from __future__ import annotations

import hashlib
import mimetypes
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.records.dossier import Attachment, Dossier, ObjectFields
from kilter.records.house import House
from kilter.services.tell_visit import tell_visit
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board
from kilter.wiring.visit_file import VisitFile, is_visit_file


def visit_dossier(
    board: str,
    visit: Path,
    *,
    fields: ObjectFields,
    house: House | None = None,
    files: Mapping[Path, str] | None = None,
    diagnose: bool = True,
    names: bool = True,
) -> Dossier:
    """
    The dossier of one visit.

    Args:
        board: Board file, netlist or folder.
        visit: Visit file of that board.
        fields: What is known of the object.
        house: Who hands over.
        files: Files with the kind of each, such as 'photograph before'.
        diagnose: Weigh the readings that stand, where there are any.
        names: With names of persons, and with the visit file itself, which holds them; else by keys.

    Raises:
        BadInput: The board or the visit file cannot be used, or a file cannot be read.
    """
    if not is_visit_file(visit):
        raise BadInput("Cannot write a report", f"'{visit}', which is no visit file that is there",
                       "a visit file as 'kilter bench' writes it", "Name it with --visit.")  # fmt: skip
    drawn = load_board(board)
    log = VisitFile(visit, drawn).entries()
    attachments = [_attachment(path, kind) for path, kind in (files or {}).items()]
    if names:
        attachments.append(_attachment(visit, "readings"))
    found = None
    if diagnose and log.readings():
        with diagnoser(drawn, power_checks=log.power_checks) as weigher:
            found = weigher.diagnose(log.readings())
    by = house or House()
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    told = tell_visit(drawn, log, diagnosis=found, fields=fields, house=by.name, attachments=attachments, made_at=now)
    told = replace(told, house_uri=by.uri)
    return told if names else told.without_names()


def _attachment(path: Path, kind: str) -> Attachment:
    try:
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        size = path.stat().st_size
    except OSError as error:
        raise BadInput(f"Cannot take the {kind} '{path.name}'", error.strerror or "an error of the disk",
                       "a file that can be read", "Check the name.") from None  # fmt: skip
    media = mimetypes.guess_type(path.name)[0] or ""
    return Attachment(path.name, kind, digest, media_type=media, size=size, path=path)
