"""Learn from the record's closed visits: what is due, and one visit after another until nothing is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

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
from kilter.store.models import Person, Repair, Statement, Visit, VisitOutcome
from kilter.store.models.outcome import NOT_FOUND, WORKS
from kilter.store.verbs.visits import log_of
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.record_bench import Told, board_of, with_history
from kilter.wiring.record_experience import RecordExperience, age_of, identity_of

Heard = Callable[[float, str], None]


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
        silent: Closed visits of which nobody said how they ended.
        withdraw: Entries of the experience whose basis is gone.
        learn: Visits to learn from.
    """

    teachable: tuple[Teachable, ...]
    silent: tuple[Visit, ...]
    withdraw: tuple[int, ...]
    learn: tuple[Teachable, ...]


def stock_of(experience: Experience) -> Stock:
    """What the record could teach, and what of it is due."""
    rows = Visit.objects.select_related("object", "board_edition", "who").order_by("pk")
    closed = [one for one in rows.filter(events__kind="closed").distinct() if not one.is_open()]
    closed = [one for one in closed if one.board_now() is not None and one.entries.exists()]
    outcomes = {one.visit_id: one for one in VisitOutcome.objects.standing().filter(visit__in=closed)}
    teachable = tuple(_teachable(one, outcomes[one.pk]) for one in closed if one.pk in outcomes)
    found = due(experience, {one.identity: one.basis for one in teachable})
    learn = set(found.learn)
    return Stock(
        teachable, tuple(one for one in closed if one.pk not in outcomes), found.withdraw,
        tuple(one for one in teachable if one.identity in learn),
    )  # fmt: skip


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
    return {"learned": learned, "withdrawn": len(stock.withdraw), "left": left, "without_outcome": len(stock.silent)}


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


def _teachable(visit: Visit, outcome: VisitOutcome) -> Teachable:
    edition = visit.board_now()
    assert edition is not None
    repairs = list(repairs_in(visit).order_by("pk").values_list("pk", flat=True))
    earlier = Repair.objects.filter(object=visit.object, act="replaced", superseded_by__isnull=True, at__lt=visit.at)
    basis = basis_of(outcome.pk, visit.entries.count(), edition.digest, age_of(visit), repairs,
                     list(earlier.order_by("pk").values_list("pk", flat=True)))  # fmt: skip
    return Teachable(visit, outcome, identity_of(visit), basis)


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
