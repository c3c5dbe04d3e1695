"""LIDO 1.1: the record against the whole schema and its rules (authorities/lido), by three validators."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
import xmlschema
from dossiers import full, hostile
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from lxml.isoschematron import Schematron

from kilter.exporters.lido import lido
from kilter.records.dossier import Attachment, Dossier, ObjectFields, Statement, ToldVisit
from kilter.records.dossier_work import RemovedPart, Repair

AUTHORITY = Path(__file__).parents[2] / "authorities" / "lido"
SCHEMA, RULES = AUTHORITY / "lido-1.1.xsd", AUTHORITY / "lido-1.1.sch"
HOUSE = "https://houses.example/halden-cross"
SPACE = {"lido": "http://www.lido-schema.org"}
ISO = "{http://purl.oclc.org/dsdl/schematron}"


def parsed(text: str) -> etree._Element:
    return etree.fromstring(text.encode("utf-8"), etree.XMLParser(no_network=True, resolve_entities=False))


def records(folder: Path) -> list[str]:
    """The full one, published and private, with and without links; a hostile one; an empty one."""
    whole = replace(full(folder), house_uri=HOUSE)
    links = {one.sha256: f"attachments/{place}.bin" for place, one in enumerate(whole.attachments)}
    bad = replace(hostile(folder), house_uri=HOUSE)
    return [lido(whole), lido(whole, links, private=True), lido(bad, links, private=True),
            lido(Dossier(ObjectFields(""), house_uri=HOUSE))]  # fmt: skip


@pytest.fixture(scope="module")
def checks() -> tuple[etree.XMLSchema, xmlschema.XMLSchema, Schematron, Schematron]:
    """The whole schema twice, the rules of LIDO, and what the minimum record must have."""
    read = etree.XMLParser(no_network=True)
    minimum = etree.parse(str(AUTHORITY / "minimum-record-1.0.1.sch"))
    for advice in minimum.iterfind(f".//{ISO}assert[@role='warn']"):
        advice.set("test", "true()")
    return (etree.XMLSchema(etree.parse(str(SCHEMA), read)), xmlschema.XMLSchema(str(SCHEMA)),
            Schematron(etree.parse(str(RULES))), Schematron(minimum, store_report=True))  # fmt: skip


Checks = tuple[etree.XMLSchema, xmlschema.XMLSchema, Schematron, Schematron]


def test_fits_the_whole_schema_the_rules_and_the_minimum_record(tmp_path: Path, checks: Checks) -> None:
    first, second, rules, minimum = checks
    for text in records(tmp_path):
        first.assertValid(parsed(text))
        second.validate(text)
        assert rules.validate(parsed(text))
        assert minimum.validate(parsed(text)), [" ".join(one.itertext()) for one in minimum.validation_report.iter()]


def test_without_an_address_of_the_house_that_alone_is_missing(tmp_path: Path, checks: Checks) -> None:
    """Minimum record recommendation, mds0021 and mds0022: a URI of the house that keeps it and of the source."""
    minimum = checks[3]
    assert not minimum.validate(parsed(lido(full(tmp_path))))
    found = {one.get("id") for one in minimum.validation_report.iter("{http://purl.oclc.org/dsdl/svrl}failed-assert")}
    assert found == {"mds0021b", "mds0022a"}


@pytest.mark.skipif(shutil.which("xmllint") is None, reason="xmllint is not on this machine")
def test_xmllint_agrees(tmp_path: Path) -> None:
    for place, text in enumerate(records(tmp_path)):
        path = tmp_path / f"{place}.xml"
        path.write_text(text, "utf-8")
        subprocess.run(["xmllint", "--nonet", "--noout", "--schema", SCHEMA, path], check=True, capture_output=True)


TEXT = st.text(max_size=12)
KEYS = st.sampled_from(["", "p-1", "p-2", "\x00"])
SHA = st.text("0123456789abcdef", min_size=64, max_size=64)
DOSSIERS = st.builds(
    Dossier,
    st.builds(ObjectFields, *[TEXT] * 9),
    st.one_of(TEXT, st.just("2026-03-01T09:05:30Z")),
    TEXT,
    st.lists(st.builds(Statement, TEXT, TEXT, TEXT, st.none() | st.floats(0, 1), TEXT, TEXT, TEXT), max_size=2),
    st.lists(st.builds(ToldVisit, st.integers(1, 9), TEXT, TEXT, TEXT, KEYS), max_size=2),
    repairs=st.lists(
        st.builds(Repair, TEXT, TEXT, st.none() | st.integers(0, 6), TEXT, TEXT, at=TEXT, who=KEYS), max_size=2
    ),
    removed_parts=st.lists(st.builds(RemovedPart, TEXT, TEXT, TEXT, st.none() | st.booleans(), TEXT, TEXT), max_size=2),
    attachments=st.lists(st.builds(Attachment, TEXT, TEXT, SHA, TEXT, TEXT), max_size=2),
    names=st.just({"p-1": "Ilse Varn"}),
    house_uri=st.just(HOUSE),
)


@settings(max_examples=150, deadline=None)
@given(dossier=DOSSIERS, private=st.booleans())
def test_whatever_was_written_the_record_fits(checks: Checks, dossier: Dossier, private: bool) -> None:
    """Any text in any field: schema, rules, and what the minimum record must have."""
    first, _, rules, minimum = checks
    document = parsed(lido(dossier, private=private))
    first.assertValid(document)
    assert rules.validate(document)
    assert minimum.validate(document)


@pytest.mark.parametrize("name", ["lidoRecID", "objectWorkTypeWrap", "titleWrap", "recordType", "recordSource",
                                  "recordID", "eventType", "objectIdentificationWrap"])  # fmt: skip
def test_schema_misses_what_the_standard_demands(tmp_path: Path, checks: Checks, name: str) -> None:
    """Each of these is mandatory where it stands (LIDO 1.1)."""
    record = parsed(lido(full(tmp_path)))
    one = record.find(f".//lido:{name}", SPACE)
    assert one is not None
    parent = one.getparent()
    assert parent is not None
    for child in parent.findall(f"lido:{name}", SPACE):
        parent.remove(child)
    assert not checks[0].validate(record)


def test_who_is_known_by_key_name_and_role(tmp_path: Path) -> None:
    record = parsed(lido(full(tmp_path), private=True))
    found = {(one.findtext(".//lido:actorID", "", SPACE), one.findtext(".//lido:nameActorSet/*", "", SPACE),
              one.findtext("lido:roleActor/lido:term", "", SPACE))
             for one in record.iterfind(".//lido:actorInRole", SPACE)}  # fmt: skip
    assert found == {("p-1", "Ilse Varn", "examiner"), ("p-2", "Tom Ekered", "examiner"),
                     ("p-1", "Ilse Varn", "restorer")}  # fmt: skip


def test_an_event_without_a_date_says_so(tmp_path: Path) -> None:
    """When a part came out is not in a dossier, only when it was last moved."""
    record = parsed(lido(full(tmp_path)))
    events = record.iterfind(".//lido:event", SPACE)
    removed = [one for one in events if one.find("lido:thingPresent", SPACE) is not None]
    assert [one.findtext(".//lido:displayDate", "", SPACE) for one in removed] == ["date not said"]
    assert removed[0].find(".//lido:date", SPACE) is None


def test_place_owner_and_persons_are_kept_back(tmp_path: Path) -> None:
    told = lido(full(tmp_path))
    assert not any(words in told for words in ("shelf 14", "bag 3", "Ilse Varn", "p-1"))
    private = lido(full(tmp_path), private=True)
    assert all(words in private for words in ("shelf 14", "bag 3", "Ilse Varn"))


def test_dates_for_machines_only_where_they_are_exact() -> None:
    def dates(made: str) -> list[str]:
        found = parsed(lido(Dossier(ObjectFields("A 1", made=made))))
        return [one.text or "" for one in found.iterfind(".//lido:date/*", SPACE)]

    assert dates("1983") == ["1983", "1983"]
    assert dates("1983-1985") == ["1983", "1985"]
    assert dates("1985-1983") == []
    assert dates("about 1983") == []
    assert dates("١٩٨٣") == []


def test_what_no_longer_stands_is_not_published(tmp_path: Path) -> None:
    assert "Corner chipped" not in lido(full(tmp_path))
