"""The dossier: everything the record holds about one object, as it is handed over, in plain values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

from kilter.records.dossier_display import ToldDisplay
from kilter.records.dossier_proof import ToldAcceptance, ToldSoak
from kilter.records.dossier_work import Proposal, RemovedPart, Repair
from kilter.records.journal import JournalLine

NO_NAMES: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class ObjectFields:
    """
    What identifies an object, as text; '' where nobody wrote it down.

    Args:
        number: The object number, as on the label.
        made: When, as far as known, such as 'about 1983'.
        accession: Whose it is, by one of the accession states of the planning data.
        limits: Under what conditions it may be shown or run.
        board: The board whose drawing was used, with its edition.
    """

    number: str
    name: str = ""
    kind: str = ""
    made: str = ""
    owner: str = ""
    accession: str = ""
    location: str = ""
    state: str = ""
    limits: str = ""
    board: str = ""


@dataclass(frozen=True, slots=True)
class Statement:
    """
    Something said about the object.

    Args:
        kind: 'history', 'condition', 'hazard', 'significance', 'diagnosis', 'seen', 'note', 'open question'.
        source: Who or what says so, in words.
        reliability: 0, which tells nothing, to 1; None where nobody judged it.
        when: Of what time it speaks, in words.
        part: The part it names.
        mode: The failure mode or sign it names.
        at: When it was written down, ISO 8601 in UTC.
        who: Key of the person who wrote it down.
        standing: False where a later statement took its place or it was withdrawn.
    """

    kind: str
    text: str
    source: str = ""
    reliability: float | None = None
    when: str = ""
    part: str = ""
    mode: str = ""
    at: str = ""
    who: str = ""
    standing: bool = True


@dataclass(frozen=True, slots=True)
class ToldReading:
    """
    One reading, as it is told.

    Args:
        number: Of the entry, within its visit.
        quantity: Key into the quantities data.
        value: In `unit`; infinity is 'over limit'; None for a word.
        word: The word that was read; '' for a number.
        unit: Key of the unit, without prefix; '' for a word, a share or a plain number.
        uncertainty: Standard uncertainty (k = 1) in the same unit; 0 where nobody said.
        instrument: Class of the instrument, '' where nobody said.
        state: How the object stood.
        at: ISO 8601, UTC.
        who: Key of the person.
        standing: False where a later entry took it back.
    """

    number: int
    point: str
    quantity: str
    value: float | None
    word: str = ""
    unit: str = ""
    uncertainty: float = 0.0
    instrument: str = ""
    state: str = ""
    at: str = ""
    who: str = ""
    doubtful: bool = False
    note: str = ""
    standing: bool = True


@dataclass(frozen=True, slots=True)
class VisitNote:
    """An entry of a visit that is no reading: checks before power, a waiver, a test left out, something taken back."""

    number: int
    kind: str
    words: str = ""
    at: str = ""
    who: str = ""
    standing: bool = True


@dataclass(frozen=True, slots=True)
class ToldVisit:
    """One stretch of work. `closed` is '' while it is open; `who` opened it."""

    number: int
    reason: str = ""
    opened: str = ""
    closed: str = ""
    who: str = ""
    readings: tuple[ToldReading, ...] = ()
    notes: tuple[VisitNote, ...] = ()


@dataclass(frozen=True, slots=True)
class Suspect:
    """A part with the probability that it is faulty, its likeliest mode, and what speaks for and against it."""

    part: str
    probability: float
    words: str = ""
    because: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Findings:
    """
    What the last diagnosis says.

    Args:
        suspects: Likeliest first.
        healthy: Probability that nothing that the model knows is wrong.
        not_in_model: Probability of something that the model cannot express.
        unexplained: Readings that nothing explains, in words.
        next_tests: What would be read next, in words, best first.
        unanswered: What the diagnosis leaves open, in words.
    """

    suspects: tuple[Suspect, ...] = ()
    healthy: float = 0.0
    not_in_model: float = 0.0
    unexplained: tuple[str, ...] = ()
    next_tests: tuple[str, ...] = ()
    unanswered: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Attachment:
    """
    A file that belongs to the object.

    Args:
        name: As it was called when it came; never used as a path.
        kind: Such as 'photograph before' or 'document'.
        sha256: Of its bytes, hexadecimal.
        path: Where its bytes are now; None where they are not at hand.
        visit: Number of the visit it belongs to; None for none.
    """

    name: str
    kind: str
    sha256: str
    caption: str = ""
    media_type: str = ""
    size: int = 0
    at: str = ""
    who: str = ""
    path: Path | None = None
    visit: int | None = None


@dataclass(frozen=True, slots=True)
class Dossier:
    """
    Everything about one object.

    Args:
        made_at: When the dossier was put together, ISO 8601 in UTC.
        house: The collection that hands it over; '' where nobody said.
        house_uri: An address that names it and no other; '' where nobody said.
        findings: None where nothing was diagnosed.
        cautions: What whoever works on the object next has to know first.
        names: Key of a person to name. Empty to hand over without personal data; then keys are shown. What people
            wrote in free words is not searched for names.
        acceptance: Lists that a repair was held against.
        soaks: Hours under power after a repair, planned or judged.
        display: What is known of it on display; None where what the dossier was made from does not tell.
    """

    object: ObjectFields
    made_at: str = ""
    house: str = ""
    statements: tuple[Statement, ...] = ()
    visits: tuple[ToldVisit, ...] = ()
    findings: Findings | None = None
    proposals: tuple[Proposal, ...] = ()
    repairs: tuple[Repair, ...] = ()
    removed_parts: tuple[RemovedPart, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    journal: tuple[JournalLine, ...] = ()
    cautions: tuple[str, ...] = ()
    names: Mapping[str, str] = field(default_factory=lambda: NO_NAMES)
    acceptance: tuple[ToldAcceptance, ...] = ()
    soaks: tuple[ToldSoak, ...] = ()
    house_uri: str = ""
    display: ToldDisplay | None = None

    def shown(self, key: str) -> str:
        """
        A person's name, or the key where no name is handed over.

        >>> Dossier(ObjectFields("X 1"), names={"p-1": "Ada"}).shown("p-1"), Dossier(ObjectFields("X 1")).shown("p-1")
        ('Ada', 'p-1')
        """
        return self.names.get(key, key)

    def people(self) -> frozenset[str]:
        """Keys of the persons that it speaks of."""
        said = (self.statements, self.visits, self.proposals, self.repairs, self.attachments, self.journal, self.soaks)
        inside = (*(visit.readings for visit in self.visits), *(visit.notes for visit in self.visits),
                  *(one.approvals for one in self.proposals))  # fmt: skip
        keys = {one.who for many in (*said, *inside) for one in many}  # type: ignore[attr-defined]
        return frozenset({*keys, *(self.display.people() if self.display else ())} - {""})

    def named(self) -> dict[str, str]:
        """
        Names of those persons alone, whoever else has one.

        >>> said = (Statement("note", "", who="a"),)
        >>> Dossier(ObjectFields("X 1"), statements=said, names={"a": "A", "b": "B"}).named()
        {'a': 'A'}
        """
        return {key: self.names[key] for key in sorted(self.people()) if key in self.names}

    def without_names(self) -> Dossier:
        """The same without names of persons, those of inspectors on display among them."""
        return replace(self, names=NO_NAMES, display=self.display.without_names() if self.display else None)

    def said(self, *kinds: str, standing: bool = True) -> tuple[Statement, ...]:
        """Statements of these kinds that stand, or that no longer do."""
        return tuple(one for one in self.statements if one.kind in kinds and one.standing == standing)

    def readings(self) -> Iterator[tuple[ToldVisit, ToldReading]]:
        """Every reading with its visit, those that were taken back among them."""
        for visit in self.visits:
            for reading in visit.readings:
                yield visit, reading
