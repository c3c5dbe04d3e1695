"""What the record wants and could give: parts of agreed proposals, and donors, as the allocation takes them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from kilter.planning.accession import permission
from kilter.planning.allocation.problem import Donor, Finding, Lot, Problem, Wanting
from kilter.planning.numbers import number
from kilter.planning.part_types import part_type
from kilter.planning.stock import donor_lots
from kilter.services.approvals import CONSENT, TAKE_PARTS, WORK
from kilter.store.models import CollectionObject, Proposal, ProposalVersion, Visit
from kilter.store.verbs.proposals import standing_of
from kilter.store.verbs.visits import log_of
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.record_bench import board_of

REFERENCES = re.compile(r"[\s,;+&]+")
DONOR_STOCK = "donor_stock"
WORTH = 1.0
"""Of an object that works; the record holds no other weight, a collection file may."""


@dataclass(frozen=True)
class Wanted:
    """An object with an agreed proposal, and how many parts of each type it wants."""

    object: CollectionObject
    version: ProposalVersion
    needs: dict[str, int]


@dataclass(frozen=True)
class LeftOut:
    """An agreed proposal whose parts nobody can look for, and why."""

    version: ProposalVersion
    why: str


def wanted_in_record() -> tuple[list[Wanted], list[LeftOut]]:
    """Agreed proposals for work that nothing ended, whose parts stand on the object's board; and the others."""
    found, left = [], []
    rows = Proposal.objects.filter(ends__isnull=True).select_related("object__board").order_by("pk")
    for proposal in rows:
        version = proposal.latest()
        if version.act != WORK or not version.part or not standing_of(version).allowed:
            continue
        edition = proposal.object.board.latest() if proposal.object.board else None
        parts = board_of(edition).parts if edition is not None else {}
        names = [name for name in REFERENCES.split(version.part) if name]
        odd = next((name for name in names if name not in parts), None)
        if odd is not None:
            why = f"'{odd}' is not on its board" if parts else "it has no board that says what the part is"
            left.append(LeftOut(version, why))
            continue
        needs = Counter(part_type(parts[name]) for name in names)
        found.append(Wanted(proposal.object, version, dict(needs)))
    return found, left


def donors_in_record() -> list[CollectionObject]:
    """Objects that could give parts: those of the donor stock, and those for which somebody proposed to take parts."""
    asked = Proposal.objects.filter(ends__isnull=True, versions__act=TAKE_PARTS).values("object_id")
    rows = CollectionObject.objects.select_related("board").exclude(state="gone").filter(board__isnull=False)
    return list(rows.filter(accession=DONOR_STOCK).union(rows.filter(pk__in=asked)).order_by("number"))


def problem_of_record(lots: Sequence[Lot], told: Callable[[float, str], None]) -> Problem:
    """
    What there is to share out.

    An agreed proposal counts as one finding, with the chance that fitting goes well; proposals for one object count
    together. Every part of a donor is as good as the donor's own last readings let it be, and survives taking out with
    the chance of data/planning/stock.toml.

    Args:
        lots: Of the shelf.
        told: Hears how far it is; one donor after another.
    """
    wanted, _ = wanted_in_record()
    objects: dict[str, Wanting] = {}
    for one in wanted:
        known = objects.get(one.object.number)
        needs = Counter(one.needs) + Counter(known.findings[0].needs if known else {})
        since = known.since if known else one.version.at.date().isoformat()
        words = f"proposal {one.version.proposal.number}" if known is None else f"{known.findings[0].words} and others"
        finding = Finding(number("repair_options", "fitting"), dict(needs), words)
        objects[one.object.number] = Wanting(one.object.number, WORTH, (finding,), since, one.object.name)
    types = {part for one in objects.values() for part in one.findings[0].needs}
    rows = [one for one in donors_in_record() if one.number not in objects]
    donors = []
    for at, one in enumerate(rows):
        told(at / (len(rows) + 1), f"donor {one.number}")
        donors.append(_donor(one, types))
    return Problem(tuple(objects.values()), tuple(lots), tuple(donors))


def _donor(one: CollectionObject, types: Iterable[str]) -> Donor:
    edition = one.board.latest() if one.board else None
    assert edition is not None
    board = board_of(edition)
    wanted = {name: part_type(part) for name, part in board.parts.items() if part_type(part) in types}
    visit = Visit.objects.filter(object=one, board_edition__board=one.board).order_by("-number").first()
    with diagnoser(board) as weigher:
        posterior = weigher.diagnose(log_of(visit).readings() if visit else ()).posterior
    lots = tuple(replace(lot, key=f"{one.number} {lot.key}") for lot in donor_lots(board, posterior, wanted))
    good = Visit.objects.filter(object=one, known_good=True).exists()
    may = permission(one.accession, _consents(one), reference=good)
    loss = max(number("allocation", "breaking_loss"), number("allocation", "repairable_share") * WORTH)
    return Donor(one.number, lots, loss, may, one.name)


def _consents(one: CollectionObject) -> list[str]:
    """Capacities that agreed to take parts from it, where a proposal for that stands."""
    found: set[str] = set()
    for proposal in Proposal.objects.filter(object=one, ends__isnull=True):
        version = proposal.latest()
        if version.act == TAKE_PARTS:
            rows = version.approvals.order_by("pk").values_list("capacity", "decision")
            found |= {capacity for capacity, decision in dict(rows).items() if decision == CONSENT}
    return sorted(found)
