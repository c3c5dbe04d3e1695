"""
An object as museum XML: LIDO 1.1 (ICOM-CIDOC, 2021), one record, for delivery to portals and other collections.

Where the object stands, whose it is and who worked on it are left out unless asked for: such a record is made to be
published. Readings are told of, not listed; they are in the dossier and in its table.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from xml.etree import ElementTree as ET

from kilter.exporters.harmless import clean, one_line
from kilter.exporters.report_words import at
from kilter.measure.tables import table
from kilter.records.dossier import Attachment, Dossier, Statement, ToldVisit
from kilter.records.dossier_work import RemovedPart, Repair

SPACE, SKOS = "http://www.lido-schema.org", "http://www.w3.org/2004/02/skos/core#"
LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"
CONCEPT, ABOUT = f"{{{SKOS}}}Concept", "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}about"
YEARS = re.compile(r"(\d{4})(?:\s*(?:-|–|to)\s*(\d{4}))?", re.ASCII)
STAMP = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|\+00:00)", re.ASCII)
NOT_SAID = "not said"

ET.register_namespace("lido", SPACE)
ET.register_namespace("skos", SKOS)
ET.register_namespace("rdf", ABOUT[1:].split("}")[0])


def lido(dossier: Dossier, names: Mapping[str, str] | None = None, *, private: bool = False) -> str:
    """
    The record.

    Args:
        dossier: Of the object.
        names: SHA-256 of an attachment to the address of its file, as seen from where the record lies; an attachment
            without one is described without a link.
        private: Also location, owner and persons, by name as far as the dossier has names, else by key.
    """
    wrap = ET.Element(_tag("lidoWrap"))
    record = _in(wrap, "lido")
    _in(record, "lidoRecID", _number(dossier), type=_term("local_identifier"))
    _describe(_in(record, "descriptiveMetadata", lang="en"), dossier, private=private)
    _administer(_in(record, "administrativeMetadata", lang="en"), dossier, names or {})
    ET.indent(wrap)
    text = ET.tostring(wrap, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _describe(inside: ET.Element, dossier: Dossier, *, private: bool) -> None:
    one = dossier.object
    kinds = _in(_in(inside, "objectClassificationWrap"), "objectWorkTypeWrap")
    _in(_in(kinds, "objectWorkType"), "term", one_line(one.kind) or NOT_SAID)
    identified = _in(inside, "objectIdentificationWrap")
    titles = _in(_in(identified, "titleWrap"), "titleSet")
    _in(titles, "appellationValue", one_line(one.name) or _number(dossier))
    _repository(_in(_in(identified, "repositoryWrap"), "repositorySet"), dossier, private=private)
    notes = _in(identified, "objectDescriptionWrap")
    for word, text in (("state", one.state), ("limits of use", one.limits), ("accession", one.accession),
                       ("owner", one.owner if private else "")):  # fmt: skip
        if text.strip():
            _in(_in(notes, "objectDescriptionSet", type=word), "descriptiveNoteValue", text)
    for statement in dossier.statements:
        if statement.standing:
            _statement(notes, statement)
    events = list(_events(dossier, private=private))
    if events:
        _in(inside, "eventWrap").extend(events)


def _repository(inside: ET.Element, dossier: Dossier, *, private: bool) -> None:
    if dossier.house or dossier.house_uri:
        inside.set(_tag("type"), _term("current"))
        _house(_in(inside, "repositoryName"), dossier)
    _in(inside, "workID", _number(dossier))
    if private and dossier.object.location.strip():
        place = _in(_in(inside, "repositoryLocation"), "namePlaceSet")
        _in(place, "appellationValue", dossier.object.location)


def _statement(notes: ET.Element, one: Statement) -> None:
    inside = _in(notes, "objectDescriptionSet", type=one.kind)
    where = " ".join(word for word in (one.part, one.mode) if word)
    _in(inside, "descriptiveNoteValue", f"{where}: {one.text}" if where else one.text)
    sure = "" if one.reliability is None else f"reliability {one.reliability:g} of 1"
    source = "; ".join(word for word in (one.source, one.when, sure) if word)
    if source:
        _in(inside, "sourceDescriptiveNote", source)


def _events(dossier: Dossier, *, private: bool) -> Iterable[ET.Element]:
    if dossier.object.made.strip():
        made, event = _event("production", "production")
        _date(event, dossier.object.made)
        yield made
    for visit in dossier.visits:
        yield _visit(dossier, visit, private=private)
    for repair in dossier.repairs:
        if repair.standing:
            yield _repair(dossier, repair, private=private)
    for part in dossier.removed_parts:
        yield _removed(part, private=private)


def _visit(dossier: Dossier, visit: ToldVisit, *, private: bool) -> ET.Element:
    people = dict.fromkeys(one for one in (visit.who, *(reading.who for reading in visit.readings)) if one)
    words, identifier = f"visit {visit.number}: examination", f"{_number(dossier)} visit {visit.number}"
    made, event = _event("restoration", words, identifier)
    if private:
        _actors(event, dossier, people, "examiner")
    _date(event, visit.opened, visit.closed)
    count = sum(reading.standing for reading in visit.readings)
    words = f"{count} reading{'' if count == 1 else 's'} stand; they are in the dossier of the object. {visit.reason}"
    _in(_in(event, "eventDescriptionSet"), "descriptiveNoteValue", words.strip())
    return made


def _repair(dossier: Dossier, one: Repair, *, private: bool) -> ET.Element:
    made, event = _event("modification", f"{one.act} {one.part}".strip())
    if private:
        _actors(event, dossier, [one.who] if one.who else [], "restorer")
    _date(event, one.at)
    grade = "intervention grade not said" if one.grade is None else f"intervention grade {one.grade} of 6"
    told = (one.words, f"fitted: {one.fitted}" if one.fitted else "", grade)
    _in(_in(event, "eventDescriptionSet"), "descriptiveNoteValue", "; ".join(word for word in told if word))
    return made


def _removed(one: RemovedPart, *, private: bool) -> ET.Element:
    made, event = _event("part_removal", f"removal of {one.part}".strip())
    _date(event, "")  # `at` is when the part was last moved, not when it came out
    thing = _in(_in(event, "thingPresent"), "object")
    _in(thing, "objectID", one_line(one.number) or NOT_SAID, type=_term("local_identifier"))
    original = {True: "original", False: "not original", None: "nobody can tell whether it is original"}[one.original]
    told = (one.words, original, one.disposition, one.place if private else "")
    _in(thing, "objectNote", "; ".join(word for word in told if word))
    return made


def _event(term: str, words: str, identifier: str = "") -> tuple[ET.Element, ET.Element]:
    """An event set and the event in it, with its type."""
    made = ET.Element(_tag("eventSet"))
    _in(made, "displayEvent", words)
    event = _in(made, "event")
    if identifier:
        _in(event, "eventID", identifier, type=_term("local_identifier"))
    kind = _in(event, "eventType")
    _concept(kind, term, term.replace("_", " "))
    return made, event


def _actors(event: ET.Element, dossier: Dossier, people: Iterable[str], role: str) -> None:
    for key in people:
        inside = _in(_in(event, "eventActor"), "actorInRole")
        actor = _in(inside, "actor")
        _in(actor, "actorID", one_line(key), type=_term("local_identifier"))
        _in(_in(actor, "nameActorSet"), "appellationValue", dossier.shown(key))
        _in(_in(inside, "roleActor"), "term", role)


def _date(event: ET.Element, first: str, last: str = "") -> None:
    """
    A date for people, and one for machines where it is a year, two years or stamps; 'about 1983' is no such date.

    Where nobody wrote one down, it says so: an event has a person, a place or a date.
    """
    shown = " to ".join(word for word in (at(first), at(last)) if word.strip())
    inside = _in(event, "eventDate")
    _in(inside, "displayDate", shown or f"date {NOT_SAID}")
    years = None if last else YEARS.fullmatch(first.strip())
    ends = (years[1], years[2] or years[1]) if years else (first, last or first)
    moments = list(ends) if years else [moment for one in ends if (moment := _stamp(one))]
    if len(moments) == len(ends) and moments == sorted(moments):
        span = _in(inside, "date")
        _in(span, "earliestDate", ends[0])
        _in(span, "latestDate", ends[1])


def _stamp(words: str) -> datetime | None:
    """The moment, where the words are one that there is, as ISO 8601 writes it."""
    if not STAMP.fullmatch(words):
        return None
    try:
        return datetime.fromisoformat(words)
    except ValueError:
        return None


def _concept(inside: ET.Element, term: str, words: str) -> None:
    """A term of the LIDO terminology: as version 1.1 has it, and for readers of version 1.0."""
    concept = ET.SubElement(inside, CONCEPT, {ABOUT: _term(term)})
    ET.SubElement(concept, f"{{{SKOS}}}prefLabel", {LANGUAGE: "en"}).text = words
    _in(inside, "conceptID", _term(term), type=_term("uri"))
    _in(inside, "term", words)


def _house(inside: ET.Element, dossier: Dossier) -> None:
    if dossier.house_uri:
        _in(inside, "legalBodyID", one_line(dossier.house_uri), type=_term("uri"))
    if dossier.house or not dossier.house_uri:
        _in(_in(inside, "legalBodyName"), "appellationValue", dossier.house or NOT_SAID)


def _administer(inside: ET.Element, dossier: Dossier, names: Mapping[str, str]) -> None:
    record = _in(inside, "recordWrap")
    _in(record, "recordID", _number(dossier), type=_term("local_identifier"))
    kind = _in(record, "recordType")
    _concept(kind, "item_record", "item-level record")
    _house(_in(record, "recordSource"), dossier)
    if _stamp(dossier.made_at):
        _in(_in(record, "recordInfoSet", type=_term("record")), "recordMetadataDate", dossier.made_at,
            type=_term("created"))  # fmt: skip
    if dossier.attachments:
        resources = _in(inside, "resourceWrap")
        for one in dossier.attachments:
            _resource(_in(resources, "resourceSet"), one, names.get(one.sha256, ""))


def _resource(inside: ET.Element, one: Attachment, address: str) -> None:
    _in(inside, "resourceID", f"sha256:{one.sha256}", type=_term("local_identifier"))
    if address:
        link = _in(_in(inside, "resourceRepresentation"), "linkResource", address)
        if one.media_type:
            link.set(_tag("formatResource"), one_line(one.media_type))
    _in(_in(inside, "resourceType"), "term", one_line(one.kind) or NOT_SAID)
    if one.caption.strip():
        _in(inside, "resourceDescription", one.caption)


def _number(dossier: Dossier) -> str:
    return one_line(dossier.object.number) or NOT_SAID


def _term(key: str) -> str:
    return str(table("handing_over")["lido"][key])


def _tag(name: str) -> str:
    return f"{{{SPACE}}}{name}"


def _in(parent: ET.Element, name: str, words: str | None = None, *, lang: str = "", type: str = "") -> ET.Element:  # noqa: A002
    """A new last child."""
    made = ET.SubElement(parent, _tag(name))
    if words is not None:
        made.text = clean(words)
    if lang:
        made.set(LANGUAGE, lang)
    if type:
        made.set(_tag("type"), one_line(type))
    return made
