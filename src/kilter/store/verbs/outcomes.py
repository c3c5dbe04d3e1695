"""Say how a visit ended; a later outcome takes the place of an earlier one, and nothing is changed."""

from __future__ import annotations

from collections.abc import Mapping

from kilter.measure.errors import BadInput
from kilter.store.journal import now, write
from kilter.store.models import Person, Visit, VisitOutcome
from kilter.store.models.outcome import NOT_FOUND, NOT_TRIED, PARTS
from kilter.store.verb import one_of, said, verb

END = "say how a visit ended"
DOING = "Cannot note how the visit ended"


@verb(END)
def note_outcome(
    actor: Person,
    visit: Visit,
    found: str,
    parts: Mapping[str, str],
    works: str,
    *,
    said_by: str = "",
    words: str = "",
    supersedes: VisitOutcome | None = None,
) -> VisitOutcome:
    """
    Confirms how a visit ended. Whether the board has such parts and modes is for the caller to try first.

    Args:
        actor: Who confirms it.
        visit: Open or closed.
        found: One of `VisitOutcome.FOUND`.
        parts: Faulty parts with their modes, 'unknown' where nobody found out how; none unless `found` says parts.
        works: One of `VisitOutcome.STATES`; there is no usual one.
        said_by: Who tried the object, where that is somebody else.
        words: How it was found out.
        supersedes: The outcome that stood until now; None for the first.

    Raises:
        BadInput: A field does not do, or another outcome stands than the one that was looked at.
    """
    one_of(found, "what was found", VisitOutcome.FOUND, DOING)
    one_of(works, "whether it works", VisitOutcome.STATES, DOING)
    if (found == PARTS) != bool(parts):
        raise BadInput(DOING, f"'{found}' with {len(parts)} parts", f"parts with '{PARTS}' alone",
                       "Name the parts, or choose another answer.")  # fmt: skip
    _check_standing(visit, supersedes)
    row = VisitOutcome.objects.create(
        visit=visit, found=found, works=works, said_by=said(said_by, "who tried it", 200, DOING),
        parts={said(part, "part", 60, DOING, empty=False): said(mode, "failure mode", 60, DOING, empty=False)
               for part, mode in parts.items()},
        words=said(words, "words", 4000, DOING), supersedes=supersedes, at=now(), who=actor,
    )  # fmt: skip
    write(actor.key, END, f"object {visit.object.number}", rows=[row], why=row.words)
    return row


@verb(END)
def take_outcome_back(actor: Person, outcome: VisitOutcome, why: str) -> VisitOutcome:
    """
    Takes an outcome back: nobody knows again how the visit ended. It stays to be read.

    Raises:
        BadInput: No reason, or it does not stand any more.
    """
    reason = said(why, "reason", 4000, "Cannot take the outcome back", empty=False)
    _check_standing(outcome.visit, outcome)
    row = VisitOutcome.objects.create(
        visit=outcome.visit, found=NOT_FOUND, works=NOT_TRIED, words=reason, supersedes=outcome, withdrawn=True,
        at=now(), who=actor,
    )  # fmt: skip
    write(actor.key, END, f"object {outcome.visit.object.number}", rows=[row], why=reason)
    return row


def standing_outcome(visit: Visit) -> VisitOutcome | None:
    """The outcome that stands; None where nobody said how the visit ended."""
    return VisitOutcome.objects.standing().filter(visit=visit).select_related("who").first()


def _check_standing(visit: Visit, earlier: VisitOutcome | None) -> None:
    now_standing = standing_outcome(visit)
    if (now_standing and now_standing.pk) != (earlier and earlier.pk):
        raise BadInput(DOING, "another outcome than the one that was looked at", "the one that stands, superseded once",
                       "Look at what stands now.")  # fmt: skip
