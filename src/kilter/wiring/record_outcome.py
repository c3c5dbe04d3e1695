"""How a visit of the record ended: proposed from repairs and readings, checked against its board, then confirmed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.services.learn_odds import check_outcome, outcome_of
from kilter.services.learn_record import without
from kilter.services.propose_outcome import Candidate, mended, propose_outcome
from kilter.store.models import Person, Visit, VisitOutcome
from kilter.store.models.outcome import PARTS
from kilter.store.verbs.outcomes import DOING, note_outcome
from kilter.store.verbs.visits import log_of
from kilter.wiring.record_bench import board_of
from kilter.wiring.record_experience import RecordExperience, identity_of
from kilter.wiring.record_lessons import called_before, readings_before, renewed_before, repairs_in


@dataclass(frozen=True)
class ProposedOutcome:
    """
    What the record suggests.

    Args:
        board: Of the visit.
        candidates: Parts that something was done to.
        readings: How many were read before anything was done.
        unsaid: Why nothing can be said about what was called; '' where it can.
    """

    board: Board
    candidates: tuple[Candidate, ...]
    readings: int
    unsaid: str = ""


def proposed_for(visit: Visit) -> ProposedOutcome:
    """
    The outcome that a visit's repairs and readings suggest.

    Raises:
        BadInput: The visit has no board, or it cannot be loaded.
    """
    board, log = _board(visit), log_of(visit)
    done = mended(board, log.readings(), repairs_in(visit).order_by("pk").values_list("act", "part"))
    called, unsaid = None, ""
    try:
        known = without(RecordExperience().read(), identity_of(visit))
        called = called_before(visit, renewed_before(board, visit), log, known) if done else None
    except BadInput as error:
        unsaid = str(error)
    return ProposedOutcome(board, propose_outcome(done, called), len(readings_before(visit, log)), unsaid)


def confirm_outcome(
    actor: Person, visit: Visit, found: str, words: Sequence[str], works: str, *, said_by: str = "", why: str = "",
    supersedes: VisitOutcome | None = None,
) -> VisitOutcome:  # fmt: skip
    """
    Notes how a visit ended, if its board has such parts and modes.

    Args:
        actor: Who confirms it.
        visit: Which.
        found: One of `VisitOutcome.FOUND`.
        words: Faulty parts as PART or PART:MODE.
        works: One of `VisitOutcome.STATES`.
        said_by: Who tried the object, where that is somebody else.
        why: How it was found out.
        supersedes: The outcome that stood until now.

    Raises:
        BadInput: A field does not do.
    """
    outcome = outcome_of([word for word in words if word.strip()], works=False)
    if outcome.found:
        if found != PARTS:
            raise BadInput(DOING, f"'{found}' with {', '.join(outcome.found)}", f"parts with '{PARTS}' alone",
                           "Take the parts out, or choose the other answer.")  # fmt: skip
        check_outcome(_board(visit), outcome)
    return note_outcome(actor, visit, found, outcome.found, works, said_by=said_by, words=why, supersedes=supersedes)


def _board(visit: Visit) -> Board:
    edition = visit.board_now()
    if edition is None:
        raise BadInput(DOING, "a visit without a board", "a visit with a board, whose parts can be named",
                       "Name the board in the object's entry, then give the visit that board.")  # fmt: skip
    return board_of(edition)
