"""The dossier of an object from the record: what is handed over, put together at one moment."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.records.dossier import (
    Attachment,
    Dossier,
    Findings,
    ObjectFields,
    Statement,
    ToldReading,
    ToldVisit,
    VisitNote,
)
from kilter.records.dossier_proof import ToldAcceptance, ToldSoak
from kilter.records.dossier_work import Approval, Proposal, RemovedPart, Repair
from kilter.records.house import House
from kilter.records.journal import JournalLine
from kilter.safety.hazards import hazards
from kilter.services.tell_proof import acceptance_of, soak_of
from kilter.services.tell_visit import TOLD_AS, findings_of
from kilter.services.visit_log import READ, UNDONE
from kilter.store.house import own_house
from kilter.store.journal import moment, now
from kilter.store.models import CollectionObject, JournalRow, Person, Visit, VisitEntry
from kilter.store.verbs.files import file_store
from kilter.store.verbs.soaks import standing_finding, standing_plan
from kilter.wiring.record_bench import board_of, session_of
from kilter.wiring.record_dossier_display import display_told
from kilter.wiring.record_proof import proof_of
from kilter.wiring.record_soak import channels_of


def dossier_of(about: CollectionObject, reader: Person, *, named: bool = True, house: House | None = None) -> Dossier:
    """
    Everything the record holds about an object.

    Args:
        about: The object.
        reader: Who asks; the diagnosis of the last visit is worked out for them.
        named: With the names of the people; else their keys alone.
        house: The collection that hands it over; without one, that which the configuration names.

    Raises:
        BadInput: The configuration does not say properly which house it is.
    """
    by = own_house() if house is None else house
    visits = list(about.visits.select_related("board_edition").order_by("number"))
    dossier = Dossier(
        fields_of(about),
        moment(now()),
        by.name,
        statements=tuple(_statements(about)),
        visits=tuple(_visit(one) for one in visits),
        findings=_findings(visits, reader),
        proposals=tuple(_proposals(about)),
        repairs=tuple(_repairs(about)),
        removed_parts=tuple(_pieces(about)),
        attachments=tuple(_attachments(about)),
        journal=tuple(_journal(about)),
        cautions=_cautions(about),
        names=dict(_names()),
        acceptance=tuple(_acceptance(visits, reader)),
        soaks=tuple(_soaks(visits)),
        house_uri=by.uri,
        display=display_told(about, now().date()),
    )
    return dossier if named else dossier.without_names()


def fields_of(about: CollectionObject) -> ObjectFields:
    """What identifies it."""
    board = f"{about.board.key}, edition {about.board.latest().edition}" if about.board else ""
    return ObjectFields(about.number, about.name, about.kind, about.made, about.owner, about.accession, about.location,
                        about.state, about.limits, board)  # fmt: skip


def _statements(about: CollectionObject) -> Iterable[Statement]:
    superseded = set(about.statements.exclude(supersedes=None).values_list("supersedes", flat=True))
    for one in about.statements.select_related("who").order_by("pk"):
        stands = one.pk not in superseded and not one.withdrawn
        yield Statement(one.kind, one.text, one.source, one.reliability, one.when, one.part, one.mode, moment(one.at),
                        one.who.key, stands)  # fmt: skip


def _visit(visit: Visit) -> ToldVisit:
    rows = list(visit.entries.select_related("who").order_by("number"))
    undone = {row.words.get("entry") for row in rows if row.kind == UNDONE}
    closed = visit.events.filter(kind="closed").order_by("-pk").first() if not visit.is_open() else None
    told = [(row, str(row.number) not in undone) for row in rows]
    return ToldVisit(
        visit.number, visit.reason, moment(visit.at), moment(closed.at) if closed else "", visit.who.key,
        tuple(_reading(row, stands=stands) for row, stands in told if row.kind == READ and row.quantity != "done"),
        tuple(_note(row, stands=stands) for row, stands in told if row.kind != READ or row.quantity == "done"),
    )  # fmt: skip


def _reading(row: VisitEntry, *, stands: bool) -> ToldReading:
    unit = quantity(row.quantity).unit if row.value is not None else ""
    return ToldReading(
        row.number, row.point, row.quantity, row.value, row.word, unit, row.uncertainty, row.instrument, row.state,
        moment(row.at), row.who.key, row.doubtful, row.note, stands,
    )  # fmt: skip


def _note(row: VisitEntry, *, stands: bool) -> VisitNote:
    words = row.words
    told = f"entry {words.get('entry', '')}" if row.kind == UNDONE else " ".join(
        words[key] for key in ("quantity", "point", "value", "state", "note") if words.get(key)
    )
    return VisitNote(row.number, TOLD_AS.get(row.kind, row.kind), told, moment(row.at), row.who.key, stands)


def _findings(visits: list[Visit], reader: Person) -> Findings | None:
    """What the readings of the last visit with a board say; None where nothing was read."""
    for visit in reversed(visits):
        if visit.board_now() is None or not visit.entries.filter(kind=READ).exists():
            continue
        try:
            with session_of(visit, reader) as session:
                return findings_of(session.diagnosis())
        except BadInput as error:
            return Findings(unanswered=(str(error),))
    return None


def _acceptance(visits: list[Visit], reader: Person) -> Iterable[ToldAcceptance]:
    """The list of the last visit in which something was done to the object, held against what was read since."""
    for visit in reversed(visits):
        undone = {row.words.get("entry") for row in visit.entries.filter(kind=UNDONE)}
        deeds = visit.entries.filter(kind=READ, quantity="done").values_list("number", flat=True)
        if visit.board_now() is None or all(str(number) in undone for number in deeds):
            continue
        try:
            with session_of(visit, reader) as session:
                yield acceptance_of(session.diagnoser.board, proof_of(session), visit.number)
        except BadInput:
            pass  # the board cannot be loaded: the open questions say so, and no list is told
        return


def _soaks(visits: list[Visit]) -> Iterable[ToldSoak]:
    """Of every visit the plan that stands, with what was recorded last of it."""
    for visit in visits:
        plan, finding = standing_plan(visit), standing_finding(visit)
        if finding is not None:  # with the plan that it was judged by, whatever was planned since
            logs = [one["sha256"] for one in finding.logs]
            yield soak_of(visit.number, finding.told, planned=finding.plan.hours, state=finding.plan.state,
                          channels=channels_of(finding.plan), logs=logs, words=finding.words,
                          at=moment(finding.at), who=finding.who.key)  # fmt: skip
        if plan is not None and (finding is None or finding.plan_id != plan.pk):
            yield soak_of(visit.number, None, planned=plan.hours, state=plan.state, channels=channels_of(plan),
                          at=moment(plan.at), who=plan.who.key)  # fmt: skip


def _proposals(about: CollectionObject) -> Iterable[Proposal]:
    for one in about.proposals.order_by("number"):
        ended = one.ends.order_by("-pk").first()
        versions = list(one.versions.select_related("who").order_by("version"))
        for row in versions:
            last = row is versions[-1]
            answers = tuple(
                Approval(each.who.key, each.capacity, each.decision, moment(each.at), each.words)
                for each in row.approvals.select_related("who").order_by("pk")
            )
            end = ("" if ended is None else ended.kind) if last else "replaced"
            yield Proposal(one.number, row.version, row.act, row.grade, row.part, row.words, row.reason,
                           row.alternatives, row.undo, moment(row.at), row.who.key, answers, end)  # fmt: skip


def _repairs(about: CollectionObject) -> Iterable[Repair]:
    rows = about.repairs.select_related("who", "visit", "proposal_version__proposal").order_by("pk")
    superseded = set(about.repairs.exclude(supersedes=None).values_list("supersedes", flat=True))
    for one in rows:
        version = one.proposal_version
        agreed = f"{version.proposal.number}, version {version.version}" if version else ""
        visit = one.visit.number if one.visit else None
        yield Repair(one.act, one.part, one.grade, one.words, one.fitted, agreed, visit,
                     moment(one.at), one.who.key, one.making_safe, one.pk not in superseded)  # fmt: skip


def _pieces(about: CollectionObject) -> Iterable[RemovedPart]:
    for one in about.removed_parts.order_by("pk"):
        last = one.last_move()
        yield RemovedPart(one.number, one.part, one.words, one.original, last.disposition, last.place, moment(last.at),
                          last.why)  # fmt: skip


def _attachments(about: CollectionObject) -> Iterable[Attachment]:
    for one in about.filings.standing().select_related("attachment", "who", "visit").order_by("pk"):
        kept = one.attachment
        visit = one.visit.number if one.visit else None
        yield Attachment(one.name, one.kind, kept.sha256, one.caption, kept.media_type, kept.size, moment(one.at),
                         one.who.key, file_store().path(kept.sha256), visit)  # fmt: skip


def _journal(about: CollectionObject) -> Iterable[JournalLine]:
    pieces = [f"part {number}" for number in about.removed_parts.values_list("number", flat=True)]
    what = [f"object {about.number}", *pieces]
    for row in JournalRow.objects.filter(what__in=what).order_by("number"):
        fields: dict[str, Any] = {name: getattr(row, name) for name in JournalLine.__dataclass_fields__}
        yield JournalLine(**fields)


def _cautions(about: CollectionObject) -> tuple[str, ...]:
    if about.board is None:
        return ()
    try:
        board = board_of(about.board.latest())
    except BadInput:
        return ()
    return tuple(dict.fromkeys(words for one in hazards(board) for words in one.cautions))


def _names() -> Iterable[tuple[str, str]]:
    for one in Person.objects.select_related("personal"):
        if one.name != one.key:
            yield one.key, one.name
