"""LIDO 1.1: the record against the part of the schema that is written (authorities/lido), by three validators."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest
import xmlschema
from dossiers import full, hostile
from lxml import etree
from lxml.isoschematron import Schematron

from kilter.exporters.lido import lido
from kilter.records.dossier import Dossier, ObjectFields

AUTHORITY = Path(__file__).parents[2] / "authorities" / "lido"
SCHEMA = AUTHORITY / "lido-1.1-written-part.xsd"
RULES = AUTHORITY / "lido-1.1-written-part.sch"
WHOLE = os.environ.get("KILTER_LIDO_SCHEMA", "")
SPACE = {"lido": "http://www.lido-schema.org"}
ISO = "{http://purl.oclc.org/dsdl/schematron}"


def parsed(text: str) -> etree._Element:
    return etree.fromstring(text.encode("utf-8"), etree.XMLParser(no_network=True, resolve_entities=False))


def schema(path: Path) -> etree.XMLSchema:
    return etree.XMLSchema(etree.parse(str(path), etree.XMLParser(no_network=True)))


def records(folder: Path) -> list[str]:
    """The full one, published and private, with and without links; a hostile one; an empty one."""
    whole = full(folder)
    links = {one.sha256: f"attachments/{place}.bin" for place, one in enumerate(whole.attachments)}
    return [lido(whole), lido(whole, links, private=True), lido(hostile(folder), links, private=True),
            lido(Dossier(ObjectFields("")))]  # fmt: skip


def test_fits_the_schema_and_the_rules(tmp_path: Path) -> None:
    first, second, rules = schema(SCHEMA), xmlschema.XMLSchema(str(SCHEMA)), Schematron(etree.parse(str(RULES)))
    for text in records(tmp_path):
        first.assertValid(parsed(text))
        second.validate(text)
        assert rules.validate(parsed(text))


@pytest.mark.skipif(shutil.which("xmllint") is None, reason="xmllint is not on this machine")
def test_xmllint_agrees(tmp_path: Path) -> None:
    for place, text in enumerate(records(tmp_path)):
        path = tmp_path / f"{place}.xml"
        path.write_text(text, "utf-8")
        subprocess.run(["xmllint", "--nonet", "--noout", "--schema", SCHEMA, path], check=True, capture_output=True)


@pytest.mark.skipif(not WHOLE, reason="KILTER_LIDO_SCHEMA names no copy of the whole schema")
def test_fits_the_whole_schema(tmp_path: Path) -> None:
    whole = etree.parse(WHOLE, etree.XMLParser(no_network=True))
    rules = etree.Element(f"{ISO}schema", nsmap={"sch": ISO[1:-1]})
    rules.extend(whole.iter(f"{ISO}ns"))
    rules.extend(whole.iter(f"{ISO}pattern"))
    for text in records(tmp_path):
        schema(Path(WHOLE)).assertValid(parsed(text))
        assert Schematron(rules).validate(parsed(text))


@pytest.mark.parametrize("name", ["lidoRecID", "objectWorkTypeWrap", "titleWrap", "recordType", "recordSource",
                                  "recordID", "eventType", "objectIdentificationWrap"])  # fmt: skip
def test_schema_misses_what_the_standard_demands(tmp_path: Path, name: str) -> None:
    """Each of these is mandatory where it stands (LIDO 1.1)."""
    record = parsed(lido(full(tmp_path)))
    one = record.find(f".//lido:{name}", SPACE)
    assert one is not None
    parent = one.getparent()
    assert parent is not None
    for child in parent.findall(f"lido:{name}", SPACE):
        parent.remove(child)
    assert not schema(SCHEMA).validate(record)


def test_rules_refuse_bare_text_in_a_concept(tmp_path: Path) -> None:
    record = parsed(lido(full(tmp_path)))
    kind = record.find(".//lido:eventType", SPACE)
    assert kind is not None
    kind.text = "words"
    assert not Schematron(etree.parse(str(RULES))).validate(record)


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
    assert dates("about 1983") == []


def test_what_no_longer_stands_is_not_published(tmp_path: Path) -> None:
    assert "Corner chipped" not in lido(full(tmp_path))
