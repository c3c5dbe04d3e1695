"""
Every operation tried as every role, as a stranger, and with keys that no longer stand for anybody.

What a role may do is told by `kilter.services.permissions.VERBS`, the table that the pages go by; the statuses are
those of RFC 9110, sections 15.5.2 (401, with WWW-Authenticate) and 15.5.4 (403).
"""

from __future__ import annotations

import pytest
from api_scene import Scene
from calls import NAMES, request_for, send
from django.db import transaction

from kilter.services.permissions import ROLES, VERBS, may
from kilter.store.journal import head
from kilter.store.models import JournalRow
from kilter.web.api.operations import OPERATIONS

TABLE = {one.name: one for one in OPERATIONS}
NOT_HERE = {"hand the record over"}
"""Verbs that the command line alone offers."""


def test_every_operation_is_tried() -> None:
    assert sorted(NAMES) == sorted(TABLE)
    assert len(TABLE) == len(OPERATIONS)


def test_every_verb_has_an_operation() -> None:
    assert {one.verb for one in OPERATIONS} - {""} == set(VERBS) - NOT_HERE


@pytest.mark.parametrize("name", NAMES)
def test_each_role(scene: Scene, name: str) -> None:
    operation = TABLE[name]
    for role in ROLES:
        before = head()
        with transaction.atomic():
            response = send(scene, role, request_for(name, scene, role))
            if not operation.verb or may([role], operation.verb):
                assert response.status_code == operation.status, (role, response.content)
                assert (head() != before) == (operation.method != "GET"), role
                assert set(JournalRow.objects.filter(number__gt=before[0]).values_list("who", flat=True)) <= {
                    scene.people[role].key
                }
            else:
                assert response.status_code == 403, (role, response.content)
                assert operation.verb in response.json()["doing"]
                assert head() == before, role
            transaction.set_rollback(True)


@pytest.mark.parametrize("name", [name for name in NAMES if TABLE[name].verb])
def test_who_is_not_let_in(scene: Scene, name: str) -> None:
    before, request = head(), request_for(name, scene)
    for key, status in {"": 401, "revoked": 401, "shut": 401, "nobody": 403}.items():
        response = send(scene, key, request)
        assert response.status_code == status, (key, response.content)
        assert set(response.json()) == {"doing", "found", "allowed", "next"}
        assert ("WWW-Authenticate" in response) == (status == 401)
    assert head() == before


def test_the_description_needs_no_key(scene: Scene) -> None:
    assert scene.ask("", "GET", "/openapi.json").status_code == 200
