"""The museum XML of every object of the demonstration, from the record; and the house that the configuration names."""

from __future__ import annotations

from pathlib import Path

import pytest
from lxml import etree
from lxml.isoschematron import Schematron
from record_scene import PASSWORD, Scene

from kilter.exporters.lido import lido
from kilter.measure.errors import BadInput
from kilter.records.house import House
from kilter.services.permissions import ROLES
from kilter.store.house import own_house
from kilter.store.place import place
from kilter.store.verbs.people import add_at_the_machine
from kilter.wiring.demo_collection import fill
from kilter.wiring.record_dossier import dossier_of

AUTHORITY = Path(__file__).parents[2] / "authorities" / "lido"


@pytest.mark.usefixtures("record")
def test_objects_of_the_demonstration_fit_lido() -> None:
    """LIDO 1.1: whole schema and rules (authorities/lido); published and private."""
    schema = etree.XMLSchema(etree.parse(str(AUTHORITY / "lido-1.1.xsd"), etree.XMLParser(no_network=True)))
    rules = Schematron(etree.parse(str(AUTHORITY / "lido-1.1.sch")))
    person = add_at_the_machine("demonstration", "Demonstration", ROLES, PASSWORD)
    objects = fill(person)
    assert len(objects) > 3
    for one in objects:
        dossier = dossier_of(one, person, house=House("Harrowmere Cabinet", "https://houses.example/harrowmere"))
        for private in (False, True):
            document = etree.fromstring(lido(dossier, private=private).encode())
            schema.assertValid(document)
            assert rules.validate(document)


def test_the_configuration_names_the_house(tmp_path: Path) -> None:
    assert own_house(tmp_path) == House()
    (tmp_path / "kilter.toml").write_text('house = " Harrowmere Cabinet "\nhouse_uri = "urn:example:1"\n', "utf-8")
    assert own_house(tmp_path) == House("Harrowmere Cabinet", "urn:example:1")


@pytest.mark.parametrize("words", ['house = 3', 'house_uri = "no address"', 'house_uri = "x:"', "house = "])
def test_a_house_that_cannot_be_read_is_told(tmp_path: Path, words: str) -> None:
    (tmp_path / "kilter.toml").write_text(words, "utf-8")
    with pytest.raises(BadInput):
        own_house(tmp_path)


def test_the_dossier_is_of_that_house(record: Scene) -> None:
    person, one = record.who("reader"), record.an_object()
    path = place().home / "kilter.toml"
    path.write_text('house = "Harrowmere Cabinet"\nhouse_uri = "urn:example:1"\n', "utf-8")
    try:
        dossier = dossier_of(one, person)
    finally:
        path.unlink()
    assert (dossier.house, dossier.house_uri) == ("Harrowmere Cabinet", "urn:example:1")
