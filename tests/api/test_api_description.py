"""
The description is a test: docs/openapi.json is what the program says of itself, and says it right.

Schemas are JSON Schema draft 2020-12, as OpenAPI 3.1.0 has them; jsonschema-rs, a general validator, reads them here.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from api_scene import Scene
from calls import NAMES, request_for, send
from hypothesis import given, settings
from hypothesis import strategies as st

from kilter.web.api.operations import OPERATIONS, described
from kilter.web.api.records import records_in
from kilter.web.api.shapes import Misfit

jsonschema_rs = pytest.importorskip("jsonschema_rs")

ROOT = Path(__file__).parents[2]
TABLE = {one.name: one for one in OPERATIONS}
TAKEN = {name: one for name, one in TABLE.items() if one.takes is not None}


def whole(schema: dict[str, Any]) -> Any:
    """A validator of a schema of the description."""
    return jsonschema_rs.Draft202012Validator({**schema, "components": described()["components"]})


VALIDATORS = {name: whole(one.takes.schema()) for name, one in TAKEN.items() if one.takes is not None}


def test_the_file_is_up_to_date() -> None:
    """Where it is not: python builders/build_openapi.py."""
    assert json.loads((ROOT / "docs" / "openapi.json").read_text("utf-8")) == described()


def test_every_name_is_told_once() -> None:
    """Two records of one name would be one in the description."""
    found: dict[str, set[int]] = {}
    for one in OPERATIONS:
        for shape in (one.takes, one.gives):
            for name, record in records_in(shape).items():
                found.setdefault(name, set()).add(hash(json.dumps(record.whole(), sort_keys=True)))
    assert [name for name, wholes in found.items() if len(wholes) > 1] == []


def test_every_reference_leads_somewhere() -> None:
    text = json.dumps(described())
    for part in ("schemas", "responses"):
        asked = {one.split('"')[0] for one in text.split(f"#/components/{part}/")[1:]}
        assert asked == set(described()["components"][part]) - ({"no-405"} if part == "responses" else set())


def test_the_page_names_every_operation() -> None:
    page = (ROOT / "docs" / "api.md").read_text("utf-8")
    assert [one.name for one in OPERATIONS if f"`{one.method} {one.path}`" not in page] == []


@pytest.mark.parametrize("name", NAMES)
def test_answers_fit_their_schema(scene: Scene, name: str) -> None:
    operation = TABLE[name]
    response = send(scene, "everything", request_for(name, scene, "everything"))
    assert response.status_code == operation.status, response.content
    told = described()["paths"][operation.path][operation.method.lower()]["responses"][str(operation.status)]
    content = told["content"]
    media_type = response["Content-Type"]
    assert list(content) == [media_type]
    if media_type == "application/json":
        whole(content[media_type]["schema"]).validate(response.json())


leaves = st.one_of(
    st.none(), st.booleans(), st.integers(-5, 2**63), st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(exclude_categories=("Cs",)), max_size=8),
    st.sampled_from(["note", "work", "reader", " ", "\u0085", "\ufeff", "a\nb"]),
)  # fmt: skip


@settings(max_examples=25, deadline=None, derandomize=True)
@pytest.mark.parametrize("name", sorted(TAKEN))
@given(data=st.data())
def test_checking_and_schema_agree(name: str, data: st.DataObject) -> None:
    """What the program takes is what the schema takes: for requests that fit but for one field."""
    takes = TAKEN[name].takes
    assert takes is not None
    start = request_for_body(name)
    field = data.draw(st.sampled_from([*takes.fields, "something else"]))
    deed = data.draw(st.sampled_from(["put", "put", "put in a list", "leave out"]))
    body = {key: one for key, one in start.items() if key != field}
    value = data.draw(leaves)
    if deed != "leave out":
        body[field] = [value] if deed == "put in a list" else value
    try:
        takes.check(body, "")
        taken = True
    except Misfit:
        taken = False
    assert taken == VALIDATORS[name].is_valid(body), body


def request_for_body(name: str) -> dict[str, Any]:
    """A body that fits; its places are made up."""
    return request_for(name, Anywhere(), "")[2]  # type: ignore[arg-type]


class Anywhere:
    """A scene whose every number is 1."""

    pk = number = 1
    key = "p-00000000"

    def __getattr__(self, _: str) -> Anywhere:
        return self

    def __getitem__(self, _: str) -> Anywhere:
        return self
