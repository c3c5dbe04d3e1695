"""Readings of a file that was brought go into its visit through the same door as typed ones: all of them or none."""

from __future__ import annotations

from collections.abc import Sequence

from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.visit_log import Entry, VisitLog
from kilter.services.wording import said
from kilter.store.models import Filing, Person
from kilter.store.verbs.visits import EVIDENCE, log_of
from kilter.wiring.record_bench import session_of

DOING = "Cannot put the file's readings into the visit"


def put_into_visit(actor: Person, filing: Filing, readings: Sequence[Reading]) -> None:
    """
    Records the readings of a file in the visit that it was brought to.

    Args:
        actor: Who says that they belong there.
        filing: With its visit.
        readings: As they were understood; each keeps the digest of the file.

    Raises:
        BadInput: A file without a visit, no reading, power on before the checks, or a reading of this file that stands
            already: weighed twice, one look would count as two.
        NotAllowed: The person's role does not allow it.
    """
    visit = filing.visit
    if visit is None:
        raise BadInput(DOING, "a file without a visit", "a file of a visit", "Bring the file to the visit.")
    with session_of(visit, actor) as session:
        there = {_place(one.reading): one.number for one in taken_from(session.log, filing) if one.reading is not None}
        again = [f"{one.point} (entry {there[_place(one)]})" for one in readings if _place(one) in there]
        if again:
            raise BadInput(DOING, f"{', '.join(again[:8])}, which this file has told already", "readings that are new",
                           "Take the earlier ones back at the bench first, or leave these out.")  # fmt: skip
        session.take_all([(_words(one, filing), one) for one in readings])


def taken_from(log: VisitLog, filing: Filing) -> tuple[Entry, ...]:
    """Entries that stand and came from a file."""
    return tuple(one for one in log.standing() if one.words.get(EVIDENCE) == filing.attachment.sha256)


def standing_entries(filing: Filing) -> list[int]:
    """Numbers of the entries of its visit that came from a file and stand."""
    return [one.number for one in taken_from(log_of(filing.visit), filing)] if filing.visit is not None else []


def _place(reading: Reading) -> tuple[str, str, str]:
    return reading.point, reading.quantity, reading.state


def _words(reading: Reading, filing: Filing) -> dict[str, str]:
    note = f"from {filing.name}" + (f": {reading.note}" if reading.note else "")
    words = {"point": reading.point, "quantity": reading.quantity, "value": said(reading), "state": reading.state,
             "instrument": reading.instrument, "doubtful": "yes" if reading.doubtful else "", "note": note,
             EVIDENCE: filing.attachment.sha256}  # fmt: skip
    return {key: word for key, word in words.items() if word}
