"""Open a visit and add what happens at the bench, entry by entry."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.visit_log import CHECKED, KINDS, READ, UNDONE, WAIVED, Entry, VisitLog
from kilter.store.journal import now, write
from kilter.store.models import (
    Attachment,
    BoardEdition,
    CollectionObject,
    GateCheck,
    Person,
    Visit,
    VisitEntry,
    VisitEvent,
)
from kilter.store.verb import one_of, said, verb

OPEN, RECORD, GATE = "open a visit", "record at the bench", "pass the power checks"
MOST_WORDS = 2000
EVIDENCE = "evidence"
"""Under this word of a reading stands the SHA-256 of the file it was taken from."""
MOST_SIGNS = {"point": 120, "quantity": 40, "word": 60, "state": 120, "instrument": 60, "note": MOST_WORDS}


@verb(OPEN)
def open_visit(
    actor: Person,
    about: CollectionObject,
    reason: str = "",
    *,
    edition: BoardEdition | None = None,
    not_working: bool = True,
    known_good: bool = False,
    instruments: str = "",
) -> Visit:
    """
    Begins a stretch of work on an object.

    Args:
        actor: A recorder or repairer.
        about: The object.
        reason: Why.
        edition: The board edition the diagnosis rests on; the latest of the object's board unless given.
        not_working: Somebody saw the object fail.
        known_good: It is read as a good specimen.
        instruments: What is at hand, as 'dmm,scope'.
    """
    doing = "Cannot open a visit"
    if edition is None and about.board is not None:
        edition = about.board.latest()
    number = Visit.objects.filter(object=about).count() + 1
    row = Visit.objects.create(
        object=about, number=number, reason=said(reason, "reason", 2000, doing), board_edition=edition,
        not_working=not_working, known_good=known_good, instruments=said(instruments, "instruments", 200, doing),
        at=now(), who=actor,
    )  # fmt: skip
    write(actor.key, OPEN, f"object {about.number}", rows=[row], why=row.reason)
    return row


@verb(RECORD)
def set_visit(actor: Person, visit: Visit, kind: str, why: str = "", edition: BoardEdition | None = None) -> VisitEvent:
    """
    Closes or reopens a visit, or has it go on with another board edition.

    Raises:
        BadInput: It is closed, or open, already.
    """
    doing = f"Cannot change visit {visit.number} to {visit.object.number}"
    one_of(kind, "kind", VisitEvent.KINDS, doing)
    if kind in ("closed", "reopened") and visit.is_open() == (kind == "reopened"):
        raise BadInput(doing, f"a visit that is {'open' if kind == 'reopened' else 'closed'} already",
                       "the other way round", "Look at the visit as it stands.")  # fmt: skip
    if (kind == "board") != (edition is not None):
        raise BadInput(doing, "no board edition" if kind == "board" else "a board edition", "one with 'board' alone",
                       "Choose the edition.")  # fmt: skip
    row = VisitEvent.objects.create(
        visit=visit, kind=kind, why=said(why, "reason", 2000, doing), board_edition=edition, at=now(), who=actor
    )
    write(actor.key, RECORD, f"object {visit.object.number}", rows=[row], why=row.why)
    return row


def add_entry(
    actor: Person, visit: Visit, kind: str, words: Mapping[str, str], reading: Reading | None, *, after: int
) -> VisitEntry:
    """
    Adds one entry to a visit.

    Args:
        actor: Who is at the bench; passing or waiving the power checks needs a repairer.
        visit: An open one.
        kind: One of `kilter.services.visit_log.KINDS`.
        words: As they were typed.
        reading: What they mean, for a reading or a deed.
        after: Number of the last entry that the person saw; where another was added meanwhile, nothing is written.

    Raises:
        BadInput: The visit is closed, somebody was faster, or the words do not do.
        NotAllowed: The person's role does not allow it.
    """
    add = _add_gate if kind in (CHECKED, WAIVED) else _add
    return add(actor, visit, kind, words, reading, after)


@verb(RECORD)
def add_readings(
    actor: Person, visit: Visit, told: Sequence[tuple[Mapping[str, str], Reading]], *, after: int
) -> list[VisitEntry]:
    """
    Adds several readings or deeds, all of them or none, told by one row of the journal.

    Args:
        actor: Who is at the bench.
        visit: An open one.
        told: Words and what they mean, in order. A file that a reading comes from stands under EVIDENCE as its SHA-256.
        after: As for `add_entry`.

    Raises:
        BadInput: There is none, the visit is closed, somebody was faster, or the words of one do not do.
        NotAllowed: The person's role does not allow it.
    """
    if not told:
        raise BadInput(f"Cannot record in visit {visit.number} to {visit.object.number}", "no reading", "one or more",
                       "Say what was read.")  # fmt: skip
    return _all_written(actor, visit, READ, told, after)


@verb(RECORD)
def _add(
    actor: Person, visit: Visit, kind: str, words: Mapping[str, str], reading: Reading | None, after: int
) -> VisitEntry:
    return _written(actor, visit, kind, words, reading, after)


@verb(GATE)
def _add_gate(
    actor: Person, visit: Visit, kind: str, words: Mapping[str, str], reading: Reading | None, after: int
) -> VisitEntry:
    return _written(actor, visit, kind, words, reading, after)


def _written(
    actor: Person, visit: Visit, kind: str, words: Mapping[str, str], reading: Reading | None, after: int
) -> VisitEntry:
    return _all_written(actor, visit, kind, [(words, reading)], after)[0]


def _all_written(
    actor: Person, visit: Visit, kind: str, told: Sequence[tuple[Mapping[str, str], Reading | None]], after: int
) -> list[VisitEntry]:
    """Entries one after another, and one row of the journal that tells of all of them."""
    doing = f"Cannot record in visit {visit.number} to {visit.object.number}"
    one_of(kind, "kind", KINDS, doing)
    last = VisitEntry.objects.filter(visit=visit).order_by("-number").values_list("number", flat=True).first() or 0
    if last != after:
        raise BadInput(doing, f"entry {last}, while you looked at entry {after}", "entries one after another",
                       "Look at what was added, then record it again.")  # fmt: skip
    if not visit.is_open():
        raise BadInput(doing, "a visit that is closed", "an open visit", "Reopen it, or open a new one.")
    rows, time = [], now()
    for number, (words, reading) in enumerate(told, last + 1):
        kept = {str(key): said(word, str(key), MOST_WORDS, doing) for key, word in words.items()}
        _check_kind(kind, kept, reading, last, doing)
        rows.append(VisitEntry.objects.create(visit=visit, number=number, kind=kind, words=kept, at=time, who=actor,
                                              **_columns(reading, doing)))  # fmt: skip
    notes = {row.words["note"] for row in rows if row.words.get("note")}
    files = sorted({row.words[EVIDENCE] for row in rows if EVIDENCE in row.words})
    write(actor.key, GATE if kind in (CHECKED, WAIVED) else RECORD, f"object {visit.object.number}", rows=rows,
          why=notes.pop() if len(notes) == 1 else "", evidence=files)  # fmt: skip
    return rows


def _check_kind(kind: str, words: Mapping[str, str], reading: Reading | None, last: int, doing: str) -> None:
    if (kind == READ) != (reading is not None):
        raise BadInput(doing, "words without a meaning", "a reading with its words", "Type it anew.")
    if EVIDENCE in words and not Attachment.objects.filter(sha256=words[EVIDENCE]).exists():
        raise BadInput(doing, f"a reading from a file {words[EVIDENCE][:12]!r}", "files that were brought",
                       "Bring the file first.")  # fmt: skip
    if kind == UNDONE and not (words.get("entry", "").isdecimal() and 1 <= int(words["entry"]) <= last):
        raise BadInput(doing, f"an undo of entry {words.get('entry', '')!r}", "the number of an earlier entry",
                       "Choose the entry again.")  # fmt: skip
    if kind == WAIVED and not words.get("note"):
        raise BadInput(doing, "no reason", "a reason for going on without the checks", "Write it down.")


def _columns(reading: Reading | None, doing: str) -> dict[str, object]:
    """
    A reading as columns; texts are held to the length of their column, which not every engine does.

    Raises:
        BadInput: A text is too long, or a number is none.
    """
    if reading is None:
        return {}
    if any(number is not None and math.isnan(number) for number in (reading.value, reading.uncertainty)):
        raise BadInput(doing, f"a value at {reading.point} that is no number", "a number, or infinite for over-limit",
                       "Type the reading anew.")  # fmt: skip
    texts = {name: said(getattr(reading, name), name, most, doing) for name, most in MOST_SIGNS.items()}
    return {**texts, **{name: getattr(reading, name) for name in ("value", "uncertainty", "doubtful")}}


def log_of(visit: Visit) -> VisitLog:
    """The visit's entries as the services know them; `who` is the person's key."""
    rows = VisitEntry.objects.filter(visit=visit).select_related("who").order_by("number")
    return VisitLog(tuple(entry_of(row) for row in rows))


def entry_of(row: VisitEntry) -> Entry:
    """One row as an entry; the reading is what was understood when it was recorded."""
    time, who = row.at.isoformat(timespec="seconds").replace("+00:00", "Z"), row.who.key
    reading = None
    if row.kind == READ:
        reading = Reading(
            row.point, row.quantity, row.value, row.word, row.uncertainty, row.state, row.instrument, time, who,
            row.doubtful, row.note, f"entry {row.number}",
        )  # fmt: skip
    return Entry(row.number, time, who, row.kind, row.words, reading)


@verb(RECORD)
def record_check(
    actor: Person, visit: Visit, name: str, outcome: str, words: str = "", supersedes: GateCheck | None = None
) -> GateCheck:
    """
    Records one check before power, with its outcome; a later record of it takes the place of the earlier.

    Raises:
        BadInput: The visit is closed, or the earlier record was superseded already.
    """
    doing = "Cannot record the check"
    if not visit.is_open():
        raise BadInput(doing, "a visit that is closed", "an open visit", "Reopen it, or open a new one.")
    if supersedes is not None and (
        supersedes.visit_id != visit.pk or GateCheck.objects.filter(supersedes=supersedes).exists()
    ):
        raise BadInput(doing, "a record of it that was superseded", "the latest record", "Look at what stands now.")
    row = GateCheck.objects.create(
        visit=visit, name=said(name, "check", 200, doing, empty=False),
        outcome=one_of(outcome, "outcome", GateCheck.OUTCOMES, doing), words=said(words, "words", 4000, doing),
        supersedes=supersedes, at=now(), who=actor,
    )  # fmt: skip
    write(actor.key, RECORD, f"object {visit.object.number}", rows=[row])
    return row
