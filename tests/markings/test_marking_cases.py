"""Markings with what they say, from the table in cases.toml, which names a source for every group."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from kilter.parts.markings import read_colours, read_marking
from kilter.parts.markings.bands import bands_of

TABLE = tomllib.loads((Path(__file__).parent / "cases.toml").read_text("utf-8"))
VALUES = [(group, case) for group in TABLE["group"] for case in group["cases"]]
RELATIVE = 1e-6
"""Rounding of what the table writes down."""


@pytest.mark.parametrize(("group", "case"), VALUES, ids=[f"{group['kind']}-{case[0]}" for group, case in VALUES])
def test_value(group: dict[str, Any], case: list[Any]) -> None:
    text, value, *rest = case
    below, above, volts = (*rest, "", "", "")[:3]
    readings = [one.reading.fields for piece in read_marking(text, group["kind"]) for one in piece.readings]
    if below == "none":
        assert all(fields.get(group["key"]) != pytest.approx(value, rel=RELATIVE) for fields in readings)
        return
    considered = readings if group.get("among") else readings[:1]
    found = [one for one in considered if one.get(group["key"]) == pytest.approx(value, rel=RELATIVE, abs=0)]
    assert found, readings
    if below != "":
        assert found[0]["tolerance"] == pytest.approx([below, above], rel=RELATIVE)
    if volts != "":
        assert found[0]["volts"] == volts


COLOURS = [case for group in TABLE["colours"] for case in group["cases"]]


@pytest.mark.parametrize("case", COLOURS, ids=[case[0] for case in COLOURS])
def test_colour_bands(case: list[Any]) -> None:
    words, value, share = case
    fields = read_colours(bands_of(words.split())).readings[0].reading.fields
    assert fields["resistance"] == pytest.approx(value, rel=RELATIVE)
    assert fields.get("tolerance", [0.0, 0.0])[1] == pytest.approx(share)


@pytest.mark.parametrize("case", TABLE["dielectric"][0]["class_1"], ids=lambda case: case[0])
def test_class_1_dielectric(case: list[Any]) -> None:
    fields = read_marking(case[0], "ceramic")[0].readings[0].reading.fields
    assert (fields["class"], fields["ppm"], fields["ppm_spread"]) == (1, case[1], case[2])


@pytest.mark.parametrize("case", TABLE["dielectric"][0]["class_2"], ids=lambda case: case[0])
def test_class_2_dielectric(case: list[Any]) -> None:
    fields = read_marking(case[0], "ceramic")[0].readings[0].reading.fields
    assert (fields["class"], fields["celsius"], fields["change"]) == (2, case[1:3], case[3:5])


NUMBERS = [case for group in TABLE["numbers"] for case in group["cases"]]


@pytest.mark.parametrize("case", NUMBERS, ids=[case[0] for case in NUMBERS])
def test_type_number(case: list[str]) -> None:
    text, kind, number, polarity = case
    first = read_marking(text, "semiconductor")[0].readings[0].reading
    assert (first.kind, first.fields["number"], first.fields.get("polarity", "")) == (kind, number, polarity)


def test_there_are_hundreds() -> None:
    """The table shall not shrink unseen."""
    dielectrics = TABLE["dielectric"][0]
    assert len(VALUES) + len(COLOURS) + len(NUMBERS) + len(dielectrics["class_1"]) + len(dielectrics["class_2"]) > 300
