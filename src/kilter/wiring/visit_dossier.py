"""A dossier from what a person names on the command line: a board, a visit file, photographs."""

from __future__ import annotations

import hashlib
import mimetypes
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from kilter.importers.meter_log import read_meter_logs
from kilter.importers.soak_plan_file import read_soak_plan
from kilter.measure.errors import BadInput
from kilter.records.dossier import Attachment, Dossier, ObjectFields
from kilter.records.dossier_proof import ToldAcceptance, ToldSoak
from kilter.records.house import House
from kilter.services.diagnose import Diagnoser
from kilter.services.judge_soak import judge_soak
from kilter.services.prove_repair import proof_with
from kilter.services.tell_proof import acceptance_of, soak_of
from kilter.services.tell_soak import told_soak
from kilter.services.tell_visit import tell_visit
from kilter.services.visit_log import VisitLog
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
    soak: ToldSoak | None = None,
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
        soak: Hours under power after the repair; None where there were none.

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
    acceptance: tuple[ToldAcceptance, ...] = ()
    if diagnose and log.readings():
        with diagnoser(drawn, power_checks=log.power_checks) as weigher:
            found = weigher.diagnose(log.readings())
            acceptance = _acceptance(weigher, log)
    by = house or House()
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    told = tell_visit(drawn, log, diagnosis=found, fields=fields, house=by.name, attachments=attachments, made_at=now)
    told = replace(told, house_uri=by.uri, acceptance=acceptance, soaks=(soak,) if soak is not None else ())
    return told if names else told.without_names()


def soak_in(plan: Path | None, logs: Sequence[Path], failures: int = 0) -> ToldSoak:
    """
    A soak from its plan and its logs, judged.

    Raises:
        BadInput: A file cannot be read, or holds no hours.
    """
    planned = read_soak_plan(plan) if plan is not None else None
    channels = planned.channels if planned is not None else ()
    told = told_soak(judge_soak(channels, [read_meter_logs(path) for path in logs], failures)) if logs else None
    hashes = [_attachment(path, "soak log").sha256 for path in logs]
    return soak_of(1, told, planned=planned.hours if planned else 0.0, channels=channels, logs=hashes)


def _acceptance(weigher: Diagnoser, log: VisitLog) -> tuple[ToldAcceptance, ...]:
    """The list, where something was done to the object."""
    readings = log.readings()
    if weigher.chain is None or not any(one.quantity == "done" for one in readings):
        return ()
    return (acceptance_of(weigher.board, proof_with(weigher.board, weigher.chain, readings)),)


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
