"""From a collection file and stock lists to what there is to share out, with a diagnosis wherever a board is named."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from kilter.circuit.board import Board
from kilter.diagnose.posterior import Posterior
from kilter.importers.collection_file import CollectionFile, DonorEntry, ObjectEntry
from kilter.planning.accession import permission
from kilter.planning.allocation.problem import Donor, Lot, Problem, Wanting
from kilter.planning.findings import findings_of
from kilter.planning.numbers import number
from kilter.planning.stock import donor_lots
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board, load_readings


def problem_of(collection: CollectionFile, lots: Iterable[Lot]) -> Problem:
    """
    Everything that a plan depends on.

    Raises:
        BadInput: A board or readings that are named cannot be used.
    """
    seen: dict[tuple[Path, Path | None], tuple[Board, Posterior]] = {}
    objects = tuple(_wanting(one, seen) for one in collection.objects)
    worth = {one.number: one.worth for one in objects}
    donors = tuple(_donor(one, worth, seen) for one in collection.donors)
    return Problem(objects, tuple(lots), donors, collection.offers, collection.stand_ins, collection.keep)


def _wanting(one: ObjectEntry, seen: dict[tuple[Path, Path | None], tuple[Board, Posterior]]) -> Wanting:
    findings = one.findings if one.board is None else findings_of(*_diagnosed(one.board, one.readings, seen))
    return Wanting(one.number, one.worth, findings, one.since, one.title)


def _donor(
    one: DonorEntry, worth: dict[str, float], seen: dict[tuple[Path, Path | None], tuple[Board, Posterior]]
) -> Donor:
    lots = one.lots if one.board is None else donor_lots(*_diagnosed(one.board, one.readings, seen))
    least = number("allocation", "breaking_loss")
    loss = (
        one.loss
        if one.loss is not None
        else max(least, number("allocation", "repairable_share") * worth.get(one.number, 0.0))
    )
    may = permission(one.accession, one.approvals, reference=one.reference)
    return Donor(one.number, lots, loss, may, one.words)


def _diagnosed(
    board: Path, readings: Path | None, seen: dict[tuple[Path, Path | None], tuple[Board, Posterior]]
) -> tuple[Board, Posterior]:
    if (board, readings) not in seen:
        loaded = load_board(board)
        with diagnoser(loaded) as weigher:
            taken = load_readings(readings, loaded) if readings else ()
            seen[board, readings] = loaded, weigher.diagnose(taken).posterior
    return seen[board, readings]
