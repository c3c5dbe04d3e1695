"""What a report says, section by section, apart from how it is set: pages and prints show the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kilter.exporters import report_display as display
from kilter.exporters.pictures import Picture, is_picture, picture
from kilter.exporters.report_proof import (
    CHANNEL_HEADS,
    ITEM_HEADS,
    NO_ACCEPTANCE,
    NO_SOAK,
    acceptance_rows,
    acceptance_words,
    soak_heading,
    soak_tables,
)
from kilter.exporters.report_words import at, fields, read, share, statement, visit_heading, visit_notes
from kilter.exporters.report_work import proposals, removed_parts, repairs
from kilter.records.dossier import Dossier, ToldVisit

NOT_SAID = "nobody wrote it down"
TOLD_ABOVE = ("significance", "condition", "hazard", "seen", "history", "diagnosis", "open question")
TAKEN_OUT = ("replaced", "removed")
"""Acts after which there is a part that has to be somewhere."""
CAUTIONS = (
    "This report tells what was recorded. It cannot tell whether the object may be touched, opened or switched on: "
    "that is for the rules of the house, local codes and people trained for the work.",
    "That a plug was out does not say that nothing is charged.",
    "What is not mentioned was not recorded; that is no sign that it is in order.",
)


@dataclass(frozen=True)
class Words:
    """A paragraph."""

    words: str


@dataclass(frozen=True)
class Facts:
    """Labels with what is known."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Items:
    """A list. `caution` is set apart."""

    items: tuple[str, ...]
    caution: bool = False


@dataclass(frozen=True)
class Grid:
    """A table; every row as long as the heads."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Pictures:
    """Pictures beside one another, two in a row."""

    pictures: tuple[Picture, ...]


Block = Words | Facts | Items | Grid | Pictures


@dataclass(frozen=True)
class Section:
    """A headed part of the report."""

    title: str
    blocks: tuple[Block, ...]


def title(dossier: Dossier) -> str:
    """Of the whole report."""
    name = dossier.object.name.strip()
    return f"{dossier.object.number} {name}".strip() or "An object without a number"


def sections(dossier: Dossier) -> tuple[Section, ...]:
    """
    The report. Sections that always stand say so where nothing was recorded.

    Raises:
        NotAvailable: There are photographs, and no reader of pictures on this machine.
    """
    found = [
        Section("The object", (Facts(fields(dossier, NOT_SAID)),)),
        Section("Cautions", (Items((*CAUTIONS, *dossier.cautions), caution=True),)),
        _statements(dossier, "Why it matters", "significance"),
        _statements(dossier, "Condition and hazards", "condition", "hazard", "seen"),
        _statements(dossier, "History, and what others said was wrong", "history", "diagnosis"),
        _open(dossier),
        *(_visit(dossier, one) for one in dossier.visits),
        _findings(dossier),
        Section("Proposals and who agreed", _grids(*proposals(dossier)) or (Words("No proposal was recorded."),)),
        Section("Work done", _grids(*repairs(dossier)) or (Words("No work was recorded."),)),
        Section("Parts removed", _grids(*removed_parts(dossier)) or (Words("No removed part was recorded."),)),
        _acceptance(dossier),
        _soaks(dossier),
        _display(dossier),
        *_photographs(dossier),
        *_notes(dossier),
        *_superseded(dossier),
        _files(dossier),
        _journal(dossier),
    ]
    return tuple(found)


def _grids(heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> tuple[Block, ...]:
    return (Grid(heads, tuple(rows)),) if rows else ()


def _under(words: str, grids: tuple[Block, ...]) -> tuple[Block, ...]:
    """A table under words that name it, where there is one."""
    return (Words(words), *grids) if grids else ()


def _statements(dossier: Dossier, heading: str, *kinds: str) -> Section:
    told = tuple(statement(dossier, one) for one in dossier.said(*kinds))
    return Section(heading, (Items(told),) if told else (Words(f"Nothing was recorded under {' or '.join(kinds)}."),))


def _notes(dossier: Dossier) -> Iterable[Section]:
    """Notes, and statements of kinds that have no section."""
    told = [f"{one.kind}: {statement(dossier, one)}" for one in dossier.statements
            if one.standing and one.kind not in TOLD_ABOVE]  # fmt: skip
    if told:
        yield Section("Notes", (Items(tuple(told)),))


def _superseded(dossier: Dossier) -> Iterable[Section]:
    told = tuple(f"{one.kind}: {statement(dossier, one)}" for one in dossier.statements if not one.standing)
    if told:
        words = "These were replaced by later statements or withdrawn; they are kept because nothing is deleted."
        yield Section("What no longer stands", (Words(words), Items(told)))


def _open(dossier: Dossier) -> Section:
    told = [statement(dossier, one) for one in dossier.said("open question")]
    if dossier.findings:
        told += [*dossier.findings.unanswered, *(f"Not explained: {words}" for words in dossier.findings.unexplained)]
    kept = {one.part for one in dossier.removed_parts}
    told += [f"What became of the {one.part} that was taken out was not recorded." for one in dossier.repairs
             if one.standing and one.act in TAKEN_OUT and one.part not in kept]  # fmt: skip
    waiting = (one for one in dossier.proposals if not one.end)
    told += [f"Proposal {one.number}, version {one.version} waits: {one.words}" for one in waiting]
    return Section("Open questions", (Items(tuple(told)),) if told else (Words("None was recorded."),))


def _visit(dossier: Dossier, visit: ToldVisit) -> Section:
    blocks: list[Block] = [Words(visit_heading(dossier, visit))]
    rows = tuple(read(dossier, one) for one in visit.readings)
    if rows:
        blocks.append(Grid(("no.", "where", "what", "read", "with", "state", "when", "who", "remarks"), rows))
        blocks.append(Words("± is the standard uncertainty (k = 1); without ± nobody stated one."))
    else:
        blocks.append(Words("No reading was recorded."))
    notes = tuple(visit_notes(dossier, visit))
    if notes:
        blocks.append(Items(notes))
    return Section(f"Visit {visit.number}", tuple(blocks))


def _findings(dossier: Dossier) -> Section:
    heading, found = "What the readings say", dossier.findings
    if found is None:
        return Section(heading, (Words("Nothing was diagnosed."),))
    if not (found.suspects or found.healthy or found.not_in_model):
        return Section(heading, (Words("It could not be worked out; the open questions say why."),))
    rows = [(one.part, share(one.probability), one.words, "; ".join(one.because)) for one in found.suspects]
    rows.append(("nothing", share(found.healthy), "no fault that the model knows is present", ""))
    rows.append(("other", share(found.not_in_model), "something that is not in the model", ""))
    blocks: list[Block] = [
        Words("Probabilities given the drawing, the readings and the odds in the data; a wrong drawing makes them "
              "wrong. Several parts may be faulty at once, so they need not add up to 100 %."),
        Grid(("part", "probability", "how", "because"), tuple(rows)),
    ]  # fmt: skip
    if found.next_tests:
        blocks += [Words("What would be read next, best first:"), Items(found.next_tests)]
    return Section(heading, tuple(blocks))


def _acceptance(dossier: Dossier) -> Section:
    blocks: list[Block] = []
    for one in dossier.acceptance:
        blocks += [Words(words) for words in acceptance_words(one)]
        blocks += _grids(ITEM_HEADS, acceptance_rows(one))
    return Section("Proof of the repair", tuple(blocks) or (Words(NO_ACCEPTANCE),))


def _soaks(dossier: Dossier) -> Section:
    blocks: list[Block] = []
    for one in dossier.soaks:
        blocks.append(Words(soak_heading(dossier, one)))
        for words, rows in soak_tables(one):
            blocks += [Words(words), *_grids(CHANNEL_HEADS, rows)]
        blocks += [Items((*one.proved, *(f"Open: {words}" for words in one.open)))] if one.proved else []
    return Section("Hours under power after the repair", tuple(blocks) or (Words(NO_SOAK),))


def _display(dossier: Dossier) -> Section:
    heading, told = "On display", dossier.display
    if told is None:
        return Section(heading, (Words(display.NOT_TOLD),))
    blocks: list[Block] = [Words(words) for words in display.display_words(told)]
    blocks += _under(display.STOOD, _grids(*display.stretches(dossier, told)))
    if not (told.shown or told.stretches or told.running or told.inspections or told.renewed or told.wears):
        return Section(heading, tuple(blocks))
    for head, table, otherwise in ((display.READ, display.running, display.NO_ENTRY),
                                   (display.INSPECTED, display.inspected, display.NO_INSPECTION),
                                   (display.RENEWED, display.renewed, display.NO_RENEWAL)):  # fmt: skip
        blocks += _under(head, _grids(*table(dossier, told))) or (Words(otherwise),)
    blocks += _under(display.WEARS, _grids(*display.wears(dossier, told)))
    if told.due:
        blocks += [Words(display.DUE), Items(tuple(display.due_words(one) for one in told.due))]
    elif not told.open:
        blocks.append(Words(display.NO_DUE if told.now else display.NOT_NOW))
    return Section(heading, tuple(blocks))


def _photographs(dossier: Dossier) -> Iterable[Section]:
    """Before, then after, then the rest; what cannot be shown is named with the reason."""
    order = ("photograph before", "photograph after")
    files = sorted(filter(is_picture, dossier.attachments),
                   key=lambda one: (order.index(one.kind) if one.kind in order else len(order)))  # fmt: skip
    shown: list[Picture] = []
    missing: list[str] = []
    for one in files:
        made = picture(one)
        if isinstance(made, Picture):
            shown.append(made)
        else:
            missing.append(f"{one.kind} '{one.name}' is not shown: {made}.")
    if files:
        blocks: list[Block] = [Pictures(tuple(shown))] if shown else []
        yield Section("Photographs", (*blocks, *((Items(tuple(missing)),) if missing else ())))


def _files(dossier: Dossier) -> Section:
    told = []
    for one in dossier.attachments:
        size = f"{one.size:,} bytes" if one.size else ""
        rest = ", ".join(word for word in (one.kind, size, at(one.at), dossier.shown(one.who)) if word)
        told.append(f"{one.name} ({rest}){f': {one.caption}' if one.caption else ''}\nSHA-256 {one.sha256}")
    return Section("Files", (Items(tuple(told)),) if told else (Words("No file belongs to it."),))


def _journal(dossier: Dossier) -> Section:
    if not dossier.journal:
        return Section("Journal", (Words("No journal came with this report."),))
    last = dossier.journal[-1]
    words = (f"{len(dossier.journal)} entries speak of this object, the last being number {last.number} of "
             f"{at(last.at)} with the hash {last.hash}.")  # fmt: skip
    rows = tuple((str(one.number), at(one.at), dossier.shown(one.who), one.verb, one.what, one.why)
                 for one in dossier.journal)  # fmt: skip
    return Section("Journal", (Words(words), Grid(("no.", "when", "who", "what was done", "to", "why"), rows)))
