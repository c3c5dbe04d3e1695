"""Learn from the record's closed visits: what is due, and one visit after another until nothing is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import BigIntegerField, Count, Exists, OuterRef, Subquery
from django.db.models.functions import Coalesce

from kilter.circuit.board import Board
from kilter.diagnose.learned_odds import learned_odds
from kilter.diagnose.posterior import Posterior
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.experience import VISIT, WITHDRAWN, Experience
from kilter.services.learn_odds import Outcome, before_deeds, body_of, lesson_of
from kilter.services.learn_record import AUTOMATIC, BASIS, OTHERWISE, basis_of, due, without
from kilter.services.learn_times import effort_of
from kilter.services.propose_outcome import parts_named
from kilter.services.visit_log import VisitLog
from kilter.store.models import (
    BoardEdition,
    Person,
    Repair,
    Statement,
    Visit,
    VisitEntry,
    VisitEvent,
    VisitOutcome,
)
from kilter.store.models.outcome import NOT_FOUND, WORKS
from kilter.store.verbs.visits import log_of
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.record_bench import Told, board_of, with_history
from kilter.wiring.record_experience import RecordExperience, age_of, identity_of

Heard = Callable[[float, str], None]
SHOWN = 20
"""Visits without an outcome that are named."""


@dataclass(frozen=True)
class Teachable:
    """
    A closed visit whose outcome stands.

    Args:
        visit: Which.
        outcome: What stands.
        identity: What tells it from others.
        basis: Of what a lesson from it rests on.
    """

    visit: Visit
    outcome: VisitOutcome
    identity: str
    basis: str


@dataclass(frozen=True)
class Stock:
    """
    How far learning is.

    Args:
        teachable: Closed visits with an outcome.
        silent: How many closed visits there are of which nobody said how they ended.
        ask: The latest of them.
        withdraw: Entries of the experience whose basis is gone.
        learn: Visits to learn from.
    """

    teachable: tuple[Teachable, ...]
    silent: int
    ask: tuple[Visit, ...]
    withdraw: tuple[int, ...]
    learn: tuple[Teachable, ...]


def stock_of(experience: Experience) -> Stock:
    """What the record could teach, and what of it is due."""
    closed = closed_visits()
    said = VisitOutcome.objects.standing()
    outcomes = {one.visit_id: one for one in said.filter(visit__in=closed)}
    teachable = _teachable(list(closed.filter(pk__in=outcomes)), outcomes)
    found = due(experience, {one.identity: one.basis for one in teachable})
    learn = set(found.learn)
    silent = closed.exclude(pk__in=said.values("visit"))
    return Stock(teachable, silent.count(), tuple(silent.order_by("-pk")[:SHOWN]), found.withdraw,
                 tuple(one for one in teachable if one.identity in learn))  # fmt: skip


def closed_visits() -> Any:
    """Visits with a board and entries that are closed now, in order."""
    events = VisitEvent.objects.filter(visit=OuterRef("pk"))
    last = events.filter(kind__in=("closed", "reopened")).order_by("-pk").values("kind")[:1]
    other = events.filter(kind="board").order_by("-pk").values("board_edition")[:1]
    rows = Visit.objects.annotate(
        last=Subquery(last), read=Exists(VisitEntry.objects.filter(visit=OuterRef("pk"))),
        edition_now=Coalesce(Subquery(other), "board_edition_id", output_field=BigIntegerField()),
    )  # fmt: skip
    rows = rows.filter(last="closed", read=True, edition_now__isnull=False)
    return rows.select_related("object", "board_edition", "who").order_by("pk")


def learn_from_record(actor: Person, heard: Heard = lambda _share, _words: None) -> dict[str, Any]:
    """
    Withdraws lessons whose basis is gone, then learns from every visit that is due; a second time changes nothing.

    Args:
        actor: For whom.
        heard: Hears how far it is, before each visit; may raise to stop, and what was learned until then stays.

    Returns:
        How many were 'learned', 'withdrawn', and why others were 'left' out, by visit.

    Raises:
        BadInput: The experience is damaged.
        NotAllowed: The person's role does not allow it.
    """
    keeper = RecordExperience(actor)
    stock = stock_of(keeper.read())
    for number in stock.withdraw:
        experience = keeper.read()
        keeper.add(experience, WITHDRAWN, {**experience.withdrawal(number, OTHERWISE), AUTOMATIC: True})
    learned, left = 0, {}
    for place, one in enumerate(stock.learn):
        heard(place / len(stock.learn), str(one.visit))
        try:
            body = lesson_body(one, keeper.read())
        except BadInput as error:
            left[str(one.visit)] = str(error)
            continue
        keeper.add(keeper.read(), VISIT, body)
        learned += 1
    heard(1.0, "")
    return {"learned": learned, "withdrawn": len(stock.withdraw), "left": left, "without_outcome": stock.silent}


def lesson_body(one: Teachable, experience: Experience) -> dict[str, Any]:
    """
    What a visit teaches, as the body of an entry.

    Args:
        one: The visit with its outcome.
        experience: What is known without this visit, for what was called.

    Raises:
        BadInput: Its board cannot be loaded or has no such part or mode, or a reading cannot be weighed.
    """
    visit, log = one.visit, log_of(one.visit)
    edition = visit.board_now()
    assert edition is not None
    board = renewed_before(board_of(edition), visit)
    counts = _counts(visit, one.outcome)
    outcome = Outcome(one.outcome.parts, counts, age_of(visit))
    known = without(experience, one.identity)
    called = called_before(visit, board, log, known) if counts else None
    lesson = replace(lesson_of(board, log, outcome, called), visit=one.identity)
    return {**body_of(lesson, board.name, str(visit)), BASIS: one.basis, "outcome": one.outcome.pk}


def called_before(visit: Visit, board: Board, log: VisitLog, experience: Experience) -> Posterior | None:
    """
    What was believed about a visit's object before anything was done to it; None where nothing had been read.

    Args:
        visit: Whose object; what was written about it later does not count.
        board: With the parts that were renewed in earlier visits marked.
        log: Its entries.
        experience: Whose odds count.
    """
    readings = readings_before(visit, log)
    if not readings:
        return None
    counts = experience.weighted()
    odds = learned_odds(board, counts, age_of(visit)) if counts else {}
    told = with_history(board, _history_before(visit, _first_deed(visit, log)))
    with diagnoser(told, odds=odds, effort=effort_of(experience.times()), not_working=visit.not_working) as weigher:
        return weigher.posterior(readings)


def readings_before(visit: Visit, log: VisitLog) -> tuple[Reading, ...]:
    """Readings before the first deed, and before the first repair that was recorded in the visit."""
    first = repairs_in(visit).order_by("at").first()
    kept = before_deeds(log.readings())
    return kept if first is None else tuple(one for one in kept if datetime.fromisoformat(one.time) < first.at)


def repairs_in(visit: Visit) -> Any:
    """What was recorded as done during a visit, and stands."""
    return Repair.objects.filter(visit=visit, superseded_by__isnull=True)


def renewed_before(board: Board, visit: Visit) -> Board:
    """The board with the parts that were replaced in this object before the visit marked as no longer original."""
    earlier = Repair.objects.filter(object=visit.object, act="replaced", superseded_by__isnull=True, at__lt=visit.at)
    names = {name for words in earlier.values_list("part", flat=True) for name in parts_named(board, words)}
    parts = {ref: replace(part, original=part.original and ref not in names) for ref, part in board.parts.items()}
    return replace(board, parts=parts) if names else board


def _counts(visit: Visit, outcome: VisitOutcome) -> bool:
    """Whether odds are learned: the object came in not working, works again, and it is known what had failed."""
    arrived = visit.not_working and not visit.known_good
    return arrived and outcome.works == WORKS and outcome.found != NOT_FOUND


def _teachable(visits: list[Visit], outcomes: Mapping[int, VisitOutcome]) -> tuple[Teachable, ...]:
    """What tells each visit from others, and what a lesson from it rests on; few questions, however many visits."""
    keys = [one.pk for one in visits]
    digests = dict(BoardEdition.objects.values_list("pk", "digest"))
    entries = VisitEntry.objects.filter(visit__in=keys).values_list("visit").annotate(count=Count("pk"))
    count = dict(entries.order_by())
    stand = Repair.objects.filter(superseded_by__isnull=True).order_by("pk")
    within, replaced = defaultdict(list), defaultdict(list)
    for pk, visit in stand.filter(visit__in=keys).values_list("pk", "visit"):
        within[visit].append(pk)
    about = {one.object_id for one in visits}
    for pk, owner, at in stand.filter(object__in=about, act="replaced").values_list("pk", "object", "at"):
        replaced[owner].append((pk, at))
    return tuple(
        Teachable(one, outcomes[one.pk], identity_of(one), basis_of(
            outcomes[one.pk].pk, count.get(one.pk, 0), digests[one.edition_now], age_of(one), within[one.pk],
            [pk for pk, at in replaced[one.object_id] if at < one.at]))
        for one in visits
    )  # fmt: skip


def _first_deed(visit: Visit, log: VisitLog) -> datetime | None:
    """When something was first done to the object in this visit, else when the visit was first closed."""
    deeds = [datetime.fromisoformat(one.time) for one in log.standing() if one.deed]
    repairs = list(repairs_in(visit).values_list("at", flat=True))
    closed = list(visit.events.filter(kind="closed").order_by("pk").values_list("at", flat=True)[:1])
    return min([*deeds, *repairs] or closed, default=None)


def _history_before(visit: Visit, limit: datetime | None) -> Told:
    """What stood about the object at a time, of what a diagnosis weighs."""
    rows = Statement.objects.filter(object=visit.object, kind__in=("diagnosis", "seen"), withdrawn=False)
    if limit is None:
        rows = rows.filter(superseded_by__isnull=True)
    else:
        rows = rows.filter(at__lt=limit).exclude(superseded_by__at__lt=limit)
    return tuple(rows.order_by("pk").values_list("kind", "part", "mode", "reliability", "text"))
