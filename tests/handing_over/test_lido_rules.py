"""
Rules beyond the schema: of LIDO 1.1 and of the minimum record recommendation, each with a document that breaks it.

The rules were read from the published ones by hand (authorities/lido/README.md). Which of them a document breaks was
worked out by hand from the published wording, rule by rule.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from lido_documents import AUTHORITY, SPACES
from lxml import etree
from lxml.isoschematron import Schematron

REPORT = "{http://purl.oclc.org/dsdl/svrl}failed-assert"
TERMS = "http://terminology.lido-schema.org/lido"
GENERIC, SPECIFIC = f'<lido:rightsType lido:type="{TERMS}00920"/>', f'<lido:rightsType lido:type="{TERMS}00921"/>'
MARK = "http://creativecommons.org/publicdomain/mark/1.0/"
OTHER = '<rdf:label xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"/>'


def rules(name: str) -> Schematron:
    """The rules with a report of what each said."""
    return Schematron(etree.parse(str(AUTHORITY / name)), store_report=True)


@pytest.fixture(scope="module")
def of_lido() -> Schematron:
    """The standard's own."""
    return rules("lido-1.1.sch")


@pytest.fixture(scope="module")
def of_the_minimum() -> Schematron:
    """The recommendation's."""
    return rules("minimum-record-1.0.1.sch")


def failed(which: Schematron, inside: str) -> set[str]:
    """Ids of the rules that a document with this in it breaks."""
    names = " ".join(f'xmlns:{prefix}="{space}"' for prefix, space in SPACES.items())
    rdf = 'xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"'
    document = etree.fromstring(f"<lido:lidoWrap {names} {rdf}>{inside}</lido:lidoWrap>")
    whole = which.validate(document)
    found = {str(one.get("id")) for one in which.validation_report.iter(REPORT)}
    assert whole == (not found)
    return found


@pytest.mark.parametrize(
    ("inside", "expected"),
    [
        ("<lido:genderActor>words</lido:genderActor>", set()),
        ("<lido:genderActor><lido:term>words</lido:term></lido:genderActor>", set()),
        ("<lido:genderActor/>", set()),
        ("<lido:genderActor>words <lido:term>words</lido:term></lido:genderActor>", {"not-both"}),
        ('<lido:extentMeasurements xml:lang="en"><lido:term>words</lido:term></lido:extentMeasurements>', {"not-both"}),
        ('<lido:scaleMeasurements lido:label="x"><skos:Concept/></lido:scaleMeasurements>', {"not-both"}),
        ("<lido:extentMeasurements><skos:Scheme/></lido:extentMeasurements>", {"not-neither"}),
        ("<lido:measurementUnit><skos:Scheme/></lido:measurementUnit>", {"not-neither", "skos-concept"}),
        ("<lido:eventType><skos:Concept/></lido:eventType>", set()),
        ("<lido:eventType><skos:Collection/></lido:eventType>", {"skos-concept"}),
        ("<lido:resourceType><skos:Concept/><skos:Collection/></lido:resourceType>", {"skos-concept"}),
        (f"<lido:culture><skos:Concept>{OTHER}</skos:Concept></lido:culture>", {"skos-properties"}),
        ("<lido:place><owl:sameAs/></lido:place>", set()),
        ("<lido:place><owl:sameAs/><owl:differentFrom/></lido:place>", {"owl-same-as"}),
        ("<lido:rightsHolder><owl:Class/></lido:rightsHolder>", {"owl-same-as"}),
        ("<lido:recordRights><lido:rightsType/></lido:recordRights>", set()),
        (f"<lido:recordRights>{GENERIC}{GENERIC}</lido:recordRights>", set()),
        ("<lido:recordRights><lido:rightsType/><lido:rightsType/></lido:recordRights>", {"rights-untyped"}),
        (f"<lido:recordRights>{GENERIC}<lido:rightsType/></lido:recordRights>", {"rights-untyped"}),
        ('<lido:recordRights><lido:rightsType lido:type="x"/></lido:recordRights>', {"rights-types"}),
        (f"<lido:recordRights>{GENERIC}{SPECIFIC}</lido:recordRights>", {"rights-mixed"}),
        (f"<lido:recordRights>{SPECIFIC}{GENERIC}</lido:recordRights>", {"rights-mixed"}),
        ("<lido:collection><lido:object><lido:objectName/></lido:object></lido:collection>", set()),
        ("<lido:collection><lido:object/></lido:collection>", {"collection-named"}),
    ],
)
def test_rules_of_lido(of_lido: Schematron, inside: str, expected: set[str]) -> None:
    assert failed(of_lido, inside) == expected


SKOS = ("nationalityActor", "genderActor", "roleActor", "attributionQualifierActor", "extentActor", "classification",
        "eventType", "roleInEvent", "culture", "periodName", "eventMethod", "category", "termMaterialsTech",
        "extentMaterialsTech", "measurementType", "measurementUnit", "qualifierMeasurements", "formatMeasurements",
        "shapeMeasurements", "scaleMeasurements", "objectWorkType", "placeClassification", "recordType",
        "relatedEventRelType", "relatedWorkRelType", "resourceType", "resourceRelType", "resourcePerspective",
        "rightsType", "subjectConcept")  # fmt: skip
OWL = ("vitalPlaceActor", "actor", "object", "partOfPlace", "place", "recordSource", "repositoryName",
       "repositoryLocation", "resourceSource", "rightsHolder")  # fmt: skip


@pytest.mark.parametrize("name", SKOS)
def test_where_of_skos_only_a_concept_may_stand(of_lido: Schematron, name: str) -> None:
    """The elements whose rule extends the standard's rule for SKOS."""
    assert failed(of_lido, f"<lido:{name}><skos:Concept/><skos:note/></lido:{name}>") == {"skos-concept"}


@pytest.mark.parametrize("name", OWL)
def test_where_of_owl_only_same_as_may_stand(of_lido: Schematron, name: str) -> None:
    """The elements whose rule extends the standard's rule for OWL."""
    assert failed(of_lido, f"<lido:{name}><owl:Class/></lido:{name}>") == {"owl-same-as"}


def held(inside: str) -> str:
    """Rights in a file under this concept."""
    concept = f'<lido:rightsType><skos:Concept rdf:about="{inside}"/></lido:rightsType>'
    return f"<lido:rightsResource>{concept}%s</lido:rightsResource>"


def measured(value: str) -> str:
    """A measure with this value."""
    inside = f"<lido:measurementValue>{value}</lido:measurementValue>"
    return f"<lido:objectMeasurements><lido:measurementsSet>{inside}</lido:measurementsSet></lido:objectMeasurements>"


def dated(first: str, last: str = "1983") -> str:
    """A date of an event."""
    ends = f"<lido:earliestDate>{first}</lido:earliestDate><lido:latestDate>{last}</lido:latestDate>"
    return f"<lido:eventDate><lido:date>{ends}</lido:date></lido:eventDate>"


def kept(kind: str, inside: str = "<lido:workID/>") -> str:
    """Where it is kept, as this terminology number has it."""
    return f'<lido:repositorySet lido:type="{TERMS}{kind}">{inside}</lido:repositorySet>'


URI = f'<lido:legalBodyID lido:type="{TERMS}00099">x</lido:legalBodyID>'
LOCAL = f'<lido:legalBodyID lido:type="{TERMS}00100">x</lido:legalBodyID>'
NAME = "<lido:legalBodyName/>"


@pytest.mark.parametrize(
    ("inside", "expected"),
    [
        ("<lido:titleSet><lido:appellationValue>x</lido:appellationValue></lido:titleSet>", set()),
        ("<lido:titleSet><lido:appellationValue> </lido:appellationValue></lido:titleSet>", {"mds0001a"}),
        (kept("00475"), set()),
        (kept("00475", ""), {"mds0004a"}),
        (kept("01017", ""), {"mds0004a"}),
        (kept("00476", ""), set()),
        ("<lido:repositoryWrap/>", {"mds0021a"}),
        (kept("1", f"<lido:repositoryName>{URI}{NAME}</lido:repositoryName>"), set()),
        (kept("1", f"<lido:repositoryName>{LOCAL}{NAME}</lido:repositoryName>"), {"mds0021b"}),
        (kept("1", f"<lido:repositoryName>{URI}</lido:repositoryName>"), {"mds0021c"}),
        (f"<lido:recordSource>{URI}</lido:recordSource>", set()),
        (f"<lido:recordSource>{LOCAL}</lido:recordSource>", {"mds0022a"}),
        (measured("12.5"), set()),
        (measured("12 mm"), {"mds0008a"}),
        (dated("1983"), set()),
        (dated("-0043-03-15"), set()),
        (dated("1983-05-01T10:00:00.5+01:00"), set()),
        (dated("about 1983"), {"mds0011a"}),
        (dated("83"), {"mds0011a"}),
        (dated("1983", "1983/84"), {"mds0011b"}),
        ("<lido:event><lido:eventDate/></lido:event>", {"mds0009a"}),
        ("<lido:event><lido:eventType/></lido:event>", {"mds0010a"}),
        ('<lido:objectWorkType><skos:Concept rdf:about="https://a.example/b"/></lido:objectWorkType>'
         '<lido:subjectConcept><skos:Concept rdf:about="https://a.example/b"/></lido:subjectConcept>',
         {"mds0013a"}),
        (held(MARK) % "", set()),
        (held(MARK) % "<lido:rightsHolder/>", {"mds0016a"}),
        (held("x") % "<lido:rightsHolder/>", set()),
        (held("x") % "", {"mds0016b"}),
        (f'<lido:recordWrap><lido:recordType><skos:Concept rdf:about="{TERMS}00141"/></lido:recordType>'
         "</lido:recordWrap>", set()),
        ('<lido:recordWrap><lido:recordType><skos:Concept rdf:about="x"/></lido:recordType></lido:recordWrap>',
         {"mds0020a"}),
        ("<lido:recordMetadataDate>2026-03-01T09:05:30Z</lido:recordMetadataDate>", set()),
        ("<lido:recordMetadataDate>1.3.2026</lido:recordMetadataDate>", {"mds0026a"}),
    ],
)  # fmt: skip
def test_what_the_minimum_record_must_have(of_the_minimum: Schematron, inside: str, expected: set[str]) -> None:
    found = failed(of_the_minimum, inside)
    if "rightsResource" in inside:
        found.discard("mds0015b")
    assert found == expected


@pytest.mark.parametrize(
    ("inside", "expected"),
    [
        ('<lido:objectWorkType><skos:Concept rdf:about="https://a.de/b"/></lido:objectWorkType>', set()),
        ("<lido:objectWorkType/>", {"mds0002c"}),
        ("<lido:objectDescriptionSet/>", {"mds0005c"}),
        ("<lido:objectMeasurementsSet/>", {"mds0008c"}),
        ("<lido:objectMeasurements><lido:measurementsSet><lido:measurementUnit/></lido:measurementsSet>"
         "</lido:objectMeasurements>", {"mds0008d"}),
        ("<lido:subjectSet><lido:subject><lido:subjectConcept/><lido:subjectConcept/></lido:subject></lido:subjectSet>",
         {"mds0013c"}),
        ("<lido:actorInRole><lido:actor/></lido:actorInRole>", {"mds0010b", "mds0010c"}),
        ('<lido:event><lido:eventDate/><lido:eventType><skos:Concept rdf:about="x"/></lido:eventType></lido:event>',
         {"mds0009b"}),
        ("<lido:eventPlace><lido:place><lido:placeID/></lido:place></lido:eventPlace>", {"mds0012b"}),
        ("<lido:resourceSet/>", {"mds0017b"}),
        (f"<lido:rightsResource>{GENERIC}</lido:rightsResource>", {"mds0015b"}),
        ("<lido:classification/>", {"mds0003c"}),
        ("<lido:lido/>", {"mds0018a", "mds0002b", "mds0003b", "mds0005b", "mds0006b", "mds0007b", "mds0008b",
                          "mds0013b", "mds0025b", "mds0026b"}),
    ],
)  # fmt: skip
def test_what_the_minimum_record_should_have(of_the_minimum: Schematron, inside: str, expected: set[str]) -> None:
    assert failed(of_the_minimum, inside) == expected


def test_every_rule_has_a_document_that_breaks_it() -> None:
    """The ids of both files stand above as something that is expected."""
    here = Path(__file__).read_text("utf-8")
    for name in ("lido-1.1.sch", "minimum-record-1.0.1.sch"):
        ids = etree.parse(str(AUTHORITY / name)).xpath("//@id")
        assert len(ids) > 8
        assert [one for one in ids if f'"{one}"' not in here] == []
