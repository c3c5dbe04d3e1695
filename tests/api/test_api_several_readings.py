"""
Several readings in one request: all of them or none, and none with power on before the checks.

Our own rules (docs/pages.md, docs/api.md); status codes are those of RFC 9110.
"""

from __future__ import annotations

from typing import Any

import pytest
from api_scene import Scene

from kilter.store.journal import head

GOOD = {"point": "B", "value": "10k", "quantity": "resistance", "state": "off"}


def sent(scene: Scene, *readings: dict[str, Any], after: int = 1) -> Any:
    path = f"/objects/{scene.about.pk}/visits/{scene.visit.number}/entries/several"
    return scene.ask("recorder", "POST", path, {"after": after, "readings": list(readings)})


def test_all_of_them(scene: Scene) -> None:
    before = head()[0]
    told = sent(scene, GOOD, {"point": "R1", "value": "burnt"}, {"point": "R1", "quantity": "done", "value": "renewed"})
    assert told.status_code == 201
    found = [(one["number"], one["reading"]["said"]) for one in told.json()["rows"]]
    assert [number for number, _ in found] == [2, 3, 4]
    assert [words for _, words in found][1:] == ["burnt", "renewed"]
    assert head()[0] == before + 1


@pytest.mark.parametrize("last", [
    {"point": "nowhere", "value": "10k"}, {"point": "B", "value": "4x7"},
    {"point": "A", "value": "10 V", "state": "bench"},
], ids=["no such point", "no value", "power on before the checks"])  # fmt: skip
def test_or_none(scene: Scene, last: dict[str, str]) -> None:
    before = head()
    told = sent(scene, GOOD, last)
    assert told.status_code == 409
    assert all(told.json()[part] for part in ("doing", "found", "allowed", "next"))
    assert head() == before


def test_a_deed_among_them_closes_the_gate(scene: Scene) -> None:
    """After anything done to the object a reading with power on waits for the checks again, also in one request."""
    gate = f"/objects/{scene.about.pk}/visits/{scene.visit.number}/power/gate"
    scene.done("repairer", "POST", gate, {"after": 1, "means": "waived", "why": "a bench supply of 5 V"})
    live = {"point": "A", "value": "10 V", "quantity": "voltage", "state": "bench"}
    before = head()
    assert sent(scene, {"point": "R1", "quantity": "done", "value": "renewed"}, live, after=2).status_code == 409
    assert head() == before
    assert sent(scene, live, {**live, "point": "B"}, after=2).status_code == 201


def test_none_at_all_and_too_many(scene: Scene) -> None:
    assert sent(scene).status_code == 409
    assert sent(scene, *[GOOD] * 201).status_code == 400
