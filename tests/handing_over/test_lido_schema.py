"""
The schema of LIDO 1.1 in authorities/lido: made from its structure, and as strict as it, for two validators.

What the structure says was read from the published schema by hand (authorities/lido/README.md); that the schema says
the same is tested here.
"""

from __future__ import annotations

import pytest
import xmlschema
from lido_documents import AUTHORITY, STRUCTURE, Whole, broken, built, strange
from lxml import etree

SCHEMA = AUTHORITY / "lido-1.1.xsd"


@pytest.fixture(scope="module")
def whole() -> Whole:
    """A document that uses all of LIDO."""
    return Whole()


@pytest.fixture(scope="module")
def schema() -> etree.XMLSchema:
    """By libxml2."""
    return etree.XMLSchema(etree.parse(str(SCHEMA), etree.XMLParser(no_network=True)))


def test_the_schema_is_the_one_that_the_builder_makes() -> None:
    assert SCHEMA.read_text("utf-8") == built()


def test_numbers_of_the_published_schema() -> None:
    """Counted in the published schema, lido-v1.1.xsd of 2021-12-20: global attributes and elements, wildcards."""
    text = SCHEMA.read_text("utf-8")
    read = xmlschema.XMLSchema(str(SCHEMA))
    assert len(read.attributes) == 12
    assert len(read.elements) == 22
    assert text.count('<xs:any namespace="http://www.w3.org/2002/07/owl#"') == 5
    assert text.count("gml:Point") == text.count("gml:LineString") == text.count("gml:Polygon") == 1


def test_a_document_that_uses_all_of_it_is_valid(whole: Whole, schema: etree.XMLSchema) -> None:
    used = {etree.QName(one).localname for one in whole.document.iter(etree.Element)}
    named = {piece.name.split(":")[-1] for kind in STRUCTURE.kinds.values() for piece in kind.pieces if not piece.any}
    assert named <= used
    assert {etree.QName(key).localname for one in whole.document.iter(etree.Element) for key in one.attrib} >= set(
        STRUCTURE.attributes
    )
    schema.assertValid(whole.document)
    xmlschema.XMLSchema(str(SCHEMA)).validate(whole.document)


def test_every_demand_of_the_structure_is_one_of_the_schema(whole: Whole, schema: etree.XMLSchema) -> None:
    """
    Each element twice, lost or too early, each attribute lost or of another kind: what breaks one is refused.

    libxml2 lets elements of OWL stand before the identifiers, where the standard has them after: xmlschema decides.
    """
    passed = {words: document for words, document in broken(whole) if schema.validate(document)}
    assert all(words.endswith(": owl too early") for words in passed)
    second = xmlschema.XMLSchema(str(SCHEMA))
    assert [words for words, document in passed.items() if second.is_valid(document)] == []


def test_an_attribute_stands_only_where_it_may(whole: Whole, schema: etree.XMLSchema) -> None:
    for document, names in strange(whole):
        assert not schema.validate(document)
        told = " ".join(str(one.message) for one in schema.error_log)
        missed = {name for name in names if f"}}{name.split(':')[-1]}'" not in told}
        assert missed == set(), document.tag


def test_a_second_validator_refuses_the_same(whole: Whole) -> None:
    """xmlschema is slower: every twentieth."""
    second = xmlschema.XMLSchema(str(SCHEMA))
    assert [words for words, document in list(broken(whole))[::20] if second.is_valid(document)] == []
