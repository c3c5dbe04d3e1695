"""A dossier from a board and the log of one visit: what can be handed over where no database keeps the record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from kilter.circuit.board import Board
from kilter.measure.quantities import quantity
from kilter.records.dossier import (
    Attachment,
    Dossier,
    Findings,
    ObjectFields,
    Statement,
    Suspect,
    ToldReading,
    ToldVisit,
    VisitNote,
)
from kilter.records.dossier_work import Repair
from kilter.records.reading import Reading
from kilter.safety.hazards import hazards
from kilter.services.answer import unanswered
from kilter.services.diagnose import Diagnosis
from kilter.services.visit_log import CHECKED, READ, SKIPPED, UNDONE, WAIVED, Entry, VisitLog
from kilter.services.wording import asked, kind_words, mode_words, said, times

ACTS = {"renewed": "replaced", "unplugged": "removed", "plugged": "refitted"}
"""What a deed of the bench is called among repairs; others keep their word."""
TOLD_AS = {CHECKED: "checks before power passed", WAIVED: "checks before power waived", SKIPPED: "test left out",
           UNDONE: "taken back", READ: "done"}  # fmt: skip
"""What an entry that is no reading is called."""
BY_HAND = ("unplugged", "plugged")
"""Deeds whose grade is known from the word alone."""
LOUD = 0.5
"""Readings with a smaller |log10 ratio| say little and are left out."""
MOST_REASONS, MOST_TESTS = 5, 5


class _Keys:
    """Persons by keys, in the order in which they appear."""

    def __init__(self) -> None:
        self.names: dict[str, str] = {}

    def __call__(self, name: str) -> str:
        name = name.strip()
        if not name:
            return ""
        known = {one: key for key, one in self.names.items()}
        key = known.get(name, f"person {len(self.names) + 1}")
        self.names[key] = name
        return key


def tell_visit(
    board: Board,
    log: VisitLog,
    *,
    diagnosis: Diagnosis | None = None,
    fields: ObjectFields | None = None,
    house: str = "",
    attachments: Iterable[Attachment] = (),
    made_at: str = "",
) -> Dossier:
    """
    The dossier.

    Args:
        board: With what came with the object: labels and signs seen are told as statements.
        log: Entries that were taken back are told too, as such.
        diagnosis: Of the readings that stand; None to leave it out.
        fields: What is known of the object; its board is filled in.
        house: Who hands over.
        attachments: Files that belong to it.
        made_at: ISO 8601, UTC.
    """
    keys = _Keys()
    visit = _visit(log, keys)
    about = replace(fields or ObjectFields(""), board=_board_words(board))
    return Dossier(
        about,
        made_at,
        house,
        statements=tuple(_statements(board)),
        visits=(visit,),
        findings=findings_of(diagnosis) if diagnosis is not None else None,
        repairs=tuple(_repairs(log, keys)),
        attachments=tuple(attachments),
        cautions=tuple(dict.fromkeys(words for one in hazards(board) for words in one.cautions)),
        names=dict(keys.names),
    )


def _board_words(board: Board) -> str:
    return f"{board.name}, revision {board.revision}" if board.revision else board.name


def _statements(board: Board) -> Iterable[Statement]:
    source = "what came with the object"
    for label in board.history.labels:
        yield Statement("diagnosis", label.text, source, label.reliability, "", label.part, label.mode)
    for seen in board.history.seen:
        yield Statement("seen", seen.sign, source, part=seen.part)


def _visit(log: VisitLog, keys: _Keys) -> ToldVisit:
    standing = {one.number for one in log.standing()}
    stands = [(one, one.number in standing or one.kind == UNDONE) for one in log.entries]
    first, last = (log.entries[0], log.entries[-1]) if log.entries else (None, None)
    return ToldVisit(
        1,
        f"Last entry {last.time}." if last and last.time else "",
        first.time if first else "",
        "",
        keys(first.who) if first else "",
        tuple(_reading(one, one.reading, keys, stands=ok) for one, ok in stands if one.reading and not one.deed),
        tuple(_note(one, keys, stands=ok) for one, ok in stands if one.reading is None or one.deed),
    )


def _reading(entry: Entry, one: Reading, keys: _Keys, *, stands: bool) -> ToldReading:
    return ToldReading(
        entry.number, one.point, one.quantity, one.value, one.word, quantity(one.quantity).unit, one.uncertainty,
        one.instrument, one.state, one.time or entry.time, keys(one.who or entry.who), one.doubtful, one.note, stands,
    )  # fmt: skip


def _note(entry: Entry, keys: _Keys, *, stands: bool) -> VisitNote:
    words = dict(entry.words)
    if entry.kind == UNDONE:
        told = f"entry {words.get('entry', '')}"
    elif entry.reading is not None:
        told = f"{entry.reading.point} {entry.reading.word}"
    else:
        told = " ".join(words[key] for key in ("quantity", "point", "state", "note") if words.get(key))
    return VisitNote(entry.number, TOLD_AS.get(entry.kind, entry.kind), told, entry.time, keys(entry.who), stands)


def _repairs(log: VisitLog, keys: _Keys) -> Iterable[Repair]:
    standing = {one.number for one in log.standing()}
    for entry in log.entries:
        one = entry.reading
        if one is None or not entry.deed:
            continue
        grade = quantity(one.quantity).grade if one.word in BY_HAND else None
        yield Repair(ACTS.get(one.word, one.word), one.point, grade, one.note, visit=1, at=one.time or entry.time,
                     who=keys(one.who or entry.who), standing=entry.number in standing)  # fmt: skip


def findings_of(diagnosis: Diagnosis) -> Findings:
    """What a diagnosis says, in plain values."""
    visit, posterior = diagnosis.visit, diagnosis.posterior
    unexplained = tuple(
        f"{asked(visit.readings[one.reading])} read {said(visit.readings[one.reading])}: {one.why}"
        for one in diagnosis.unexplained
    )
    tests = tuple(
        f"{quantity(one.test.quantity).words} at {one.test.point}, state '{visit.plain[one.test.state]}'"
        for one in diagnosis.advice[:MOST_TESTS]
    )
    suspects = tuple(
        Suspect(one.part, one.probability, _fault_words(diagnosis, one.part, one.modes), _because(diagnosis, place))
        for place, one in enumerate(diagnosis.suspects)
    )
    return Findings(suspects, posterior.healthy, posterior.not_in_model, unexplained, tests, unanswered(diagnosis))


def _fault_words(diagnosis: Diagnosis, part: str, modes: Sequence[tuple[str, float]]) -> str:
    """The kind of part and its likeliest mode."""
    board, mode = diagnosis.visit.board, max(modes, key=lambda one: one[1])[0] if modes else ""
    return f"{kind_words(board, part)}: {mode_words(board, (part, mode))}" if mode else kind_words(board, part)


def _because(diagnosis: Diagnosis, place: int) -> tuple[str, ...]:
    """The readings that say most about a suspect, for and against."""
    told = sorted(diagnosis.suspects[place].because, key=lambda one: -abs(one.weight))
    loud = [one for one in told if abs(one.weight) >= LOUD][:MOST_REASONS]
    readings = diagnosis.visit.readings
    return tuple(
        f"{asked(readings[one.reading])} read {said(readings[one.reading])} {one.words} it ({times(one.weight)})"
        for one in loud
    )
