"""
Whose is it? What belongs to one object is not there under another; every address answers in JSON, whatever is asked.

404 and 405 with its Allow header are those of RFC 9110, sections 15.5.5 and 15.5.6.
"""

from __future__ import annotations

from typing import Any

import pytest
from api_scene import Scene
from calls import NAMES, request_for, send

from kilter.store.journal import head
from kilter.store.verbs.proposals import propose
from kilter.store.verbs.visits import open_visit
from kilter.web.api.operations import OPERATIONS

TABLE = {one.name: one for one in OPERATIONS}
WITHIN = [name for name in NAMES if TABLE[name].path.startswith("/objects/{object}/") and len(TABLE[name].places) > 1]
NAMED = [name for name in NAMES if TABLE[name].places]


@pytest.mark.parametrize("name", WITHIN)
def test_under_another_object_it_is_not_there(scene: Scene, name: str) -> None:
    method, path, body = request_for(name, scene)
    assert send(scene, "everything", (method, path, body)).status_code == TABLE[name].status
    before = head()
    moved = path.replace(f"/objects/{scene.about.pk}/", f"/objects/{scene.other.pk}/")
    response = send(scene, "everything", (method, moved, body))
    assert (moved != path, response.status_code) == (True, 404)
    assert head() == before


def test_a_visit_in_a_body_belongs_to_the_object(scene: Scene) -> None:
    """Number 2 is a visit to the other object alone."""
    for _ in range(2):
        open_visit(scene.people["repairer"], scene.other)
    told = {"kind": "note", "text": "It hums.", "visit": 2}
    response = scene.ask("everything", "POST", f"/objects/{scene.about.pk}/statements", told)
    assert response.status_code == 409
    assert "no visit 2" in response.json()["found"]


def test_a_proposal_for_another_object_carries_no_work(scene: Scene) -> None:
    work = {"act": "work", "grade": 3, "words": "clean", "reason": "dust"}
    propose(scene.people["recorder"], scene.other, work)
    agreed = {"object": scene.other.pk, "proposal": 1, "version": 1}
    told = {"act": "cleaned", "grade": 3, "words": "cleaned", "agreed": agreed}
    assert scene.ask("everything", "POST", f"/objects/{scene.about.pk}/repairs", told).status_code == 409
    assert scene.ask("everything", "POST", f"/objects/{scene.other.pk}/repairs", told).status_code == 201


@pytest.mark.parametrize("name", NAMED)
@pytest.mark.parametrize("odd", ["0", "-1", "1.0", str(2**63), "9" * 5000, "x", "%00", "%ff", "1%0a", "..;", "é"])
def test_an_odd_address_leads_nowhere(scene: Scene, name: str, odd: str) -> None:
    operation = TABLE[name]
    _, _, body = request_for(name, scene)
    address = operation.path.replace(f"{{{operation.places[-1]}}}", odd)
    for place in operation.places[:-1]:
        address = address.replace(f"{{{place}}}", str(scene.about.pk))
    response = send(scene, "everything", (operation.method, address, body))
    assert response.status_code == 404, response.content
    assert set(response.json()) == {"doing", "found", "allowed", "next"}


@pytest.mark.parametrize("path", ["/", "/nothing", "/objects/", "/objects/1/nothing", "/openapi.json/", "//",
                                  "/%2e%2e/me", "/a\nb", "/" + "a/" * 500])  # fmt: skip
def test_what_is_no_address(scene: Scene, path: str) -> None:
    response = scene.ask("everything", "GET", path)
    assert response.status_code == 404
    assert response["Content-Type"] == "application/json"


@pytest.mark.parametrize("method", ["PUT", "DELETE", "TRACE", "OPTIONS", "BREW", "patch"])
def test_other_methods(scene: Scene, method: str) -> None:
    response = scene.ask("everything", method, "/objects")
    assert (response.status_code, response["Allow"]) == (405, "GET, POST")


def test_head_is_get_without_its_body(scene: Scene) -> None:
    response = scene.ask("reader", "HEAD", "/objects")
    assert (response.status_code, response.content) == (200, b"")


def test_cookies_count_for_nothing(scene: Scene) -> None:
    """A session that the pages would take opens nothing here, and no answer sets a cookie."""
    scene.client.force_login(scene.people["administrator"])
    try:
        assert scene.ask("", "GET", "/people").status_code == 401
        response = scene.ask("administrator", "GET", "/people")
    finally:
        scene.client.cookies.clear()
    assert response.status_code == 200
    assert not response.cookies


@pytest.mark.parametrize("given", ["", "Bearer", "Bearer ", "Basic YTpi", "klt_x", "Bearer klt_",
                                   "Bearer klt_" + "x" * 5000, "Bearer klt_\x00", "Bearer klt_é", "Bearer nothing",
                                   "Bearer klt_a klt_b"])  # fmt: skip
def test_odd_keys(scene: Scene, given: str) -> None:
    response = scene.ask("", "GET", "/me", HTTP_AUTHORIZATION=given)
    assert (response.status_code, response["WWW-Authenticate"]) == (401, 'Bearer realm="kilter"')


def test_the_scheme_is_written_in_any_case(scene: Scene) -> None:
    """RFC 9110, section 11.1: the scheme's name is case-insensitive."""
    key: Any = scene.keys["reader"]
    assert scene.ask("", "GET", "/me", HTTP_AUTHORIZATION=f"bEARER {key}").status_code == 200
