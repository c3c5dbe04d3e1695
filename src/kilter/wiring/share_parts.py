"""Long work: spares and donors shared out over the collection, with reasons; it decides nothing and changes nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from kilter.importers.collection_file import CollectionFile, read_collection
from kilter.importers.stock_table import read_stock
from kilter.measure.errors import BadInput
from kilter.planning.allocation.plan import Piece
from kilter.planning.allocation.problem import Problem
from kilter.services.allocate_parts import Allocation, allocate_parts
from kilter.wiring.collections import problem_of
from kilter.wiring.kept_file import read_kept
from kilter.wiring.record_allocation import problem_of_record, wanted_in_record

TIE = 5e-3
"""Points by which two plans are told apart, as in `kilter.planning.allocation.explain`."""
GRADES = {"socketed": 3, "later": 4, "original": 5}
"""Intervention grade of taking a part out, by how it stands."""


def share_parts(wishes: Mapping[str, Any], told: Callable[[float, str], None]) -> dict[str, Any]:
    """
    The plan as plain data.

    Args:
        wishes: 'stock', pairs of SHA-256 and name; 'collection', such a pair, or None for what the record wants.
        told: Hears how far it is; raises Stopped.

    Raises:
        BadInput: A file cannot be used, or nothing wants a part.
    """
    told(0.0, "the lists")
    tables = [(name, read_kept(sha256, name, read_stock)) for sha256, name in wishes["stock"]]
    lots = [lot for _, table in tables for lot in table.lots]
    if wishes.get("collection"):
        problem = problem_of(collection_of(*wishes["collection"]), lots)
    else:
        problem = problem_of_record(lots, lambda share, words: told(0.1 + 0.5 * share, words))
    told(0.6, "the plan and its reasons")
    found = allocate_parts(problem)
    told(0.95, "what else could be done")
    rows = [f"{name} {one.place}: {one.found}" for name, table in tables for one in table.problems]
    by_record = not wishes.get("collection")
    return {**found.plain(), **_more(found, problem), "rows_left_out": rows, "from_record": by_record,
            "left_out": _left_out() if by_record else []}  # fmt: skip


def collection_of(sha256: str, name: str) -> CollectionFile:
    """
    A collection file that was brought.

    Raises:
        BadInput: It cannot be read, or names other files.
    """
    found = read_kept(sha256, name, read_collection)
    named = [one.board or one.readings for one in found.objects] + [one.board or one.readings for one in found.donors]
    if any(one is not None for one in named):  # what a browser brings cannot point to files of this machine
        raise BadInput("Cannot share out the parts", "a board or readings named in the collection file",
                       "needs, findings and parts written down in it",
                       "Use 'kilter allocate' beside the boards, or write down what they want.")  # fmt: skip
    return found


def _left_out() -> list[dict[str, str]]:
    _, left = wanted_in_record()
    return [{"object": one.version.proposal.object.number, "part": one.version.part, "why": one.why} for one in left]


def _more(found: Allocation, problem: Problem) -> dict[str, Any]:
    """Beside the plan: names, how invasive each piece is to take, and what each other choice would lose."""
    stands: dict[tuple[str, str], list[str]] = {}
    for donor in problem.donors:
        for lot in donor.lots:
            stands.setdefault((donor.number, lot.part), []).append(lot.words)
    made = []
    for one in found.plan.made:
        pieces = [_piece(piece, stands.get((piece.origin, piece.part), [])) for piece in one.pieces]
        made.append({"number": one.wanting.number, "title": one.wanting.title, "worth": one.wanting.worth,
                     "chance": one.likely, "provides_for": list(one.provided), "pieces": pieces})  # fmt: skip
    reasons = [{"about": one.about, "subject": one.subject, "words": one.words,
                "loss": one.otherwise.loss if one.otherwise else None,
                "tie": bool(one.otherwise and one.otherwise.loss is not None and one.otherwise.loss < TIE)}
               for one in found.reasons]  # fmt: skip
    return {"made": made, "reasons": reasons}


def _piece(one: Piece, words: list[str]) -> dict[str, Any]:
    """A piece; with its place on the donor and the grade of taking it out, of the one least invasive to take."""
    told = [each.partition(", ") for each in words]
    grades = [(GRADES[stands], place) for place, _, stands in told if stands in GRADES]
    least = min(grades, default=None)
    taken = least if one.source == "donor" else None
    return {
        "wanted": one.wanted, "part": one.part, "source": one.source, "origin": one.origin, "good": one.good,
        "verdict": one.verdict, "grade": taken[0] if taken else None, "place": taken[1] if taken else "",
    }  # fmt: skip
