"""
The description held against the program by Schemathesis, a general property-testing tool for OpenAPI.

Requests that fit and requests that do not, in process. It looks for server errors, statuses and media types that are
not described, answers that do not fit their schema, requests that do not fit and are taken, and those that fit and are
refused as unfit.

Made-up numbers lead to nothing, so wherever the tool did not mean to break the address it is led to rows that are
there.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
from api_scene import Scene
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, settings

schemathesis = pytest.importorskip("schemathesis")

from schemathesis import checks  # noqa: E402
from schemathesis.core.parameters import ParameterLocation  # noqa: E402

from kilter.web.wsgi import application  # noqa: E402

EXAMPLES = 8
"""Drawn for each operation; KILTER_TEST_EXAMPLES asks for more."""
AT_BOUNDS = ["add-statement", "add-reading", "list-journal", "bring-file"]
"""Operations with shapes of every kind, tried also at the bounds of each field: a hundred requests each."""


def read_whole(environ: Any, start: Any) -> list[bytes]:
    """The program, its answers read to their end and closed, which the tool leaves open."""
    answer = application(environ, start)
    try:
        return [b"".join(answer)]
    finally:
        answer.close()


description = schemathesis.openapi.from_wsgi("/api/openapi.json", read_whole)
description.config.update(base_url="http://127.0.0.1/api")
description.config.phases.coverage.enabled = False
with_bounds = schemathesis.openapi.from_wsgi("/api/openapi.json", read_whole)
with_bounds.config.update(base_url="http://127.0.0.1/api")
for one in (description, with_bounds):
    one.config.generation.with_security_parameters = False  # keys are tried in test_api_roles.py
DRAWN = settings(max_examples=int(os.environ.get("KILTER_TEST_EXAMPLES", EXAMPLES)), derandomize=True,
                 deadline=None, database=None, phases=[Phase.explicit, Phase.generate],
                 suppress_health_check=list(HealthCheck))  # fmt: skip
CHECKS = [
    checks.not_a_server_error, *(check for check in checks.CHECKS.get_all() if check.__name__ in {
        "status_code_conformance", "content_type_conformance", "response_headers_conformance",
        "response_schema_conformance", "negative_data_rejection", "positive_data_acceptance", "unsupported_method",
    }),
]  # fmt: skip


@pytest.fixture(autouse=True, scope="module")
def _one_connection() -> Iterator[None]:
    """At both ends of a request the framework closes a connection that is in a transaction; here all happens in one."""
    signals = (request_started, request_finished)
    for one in signals:
        one.disconnect(close_old_connections)
    yield
    for one in signals:
        one.connect(close_old_connections)


@description.parametrize()
@DRAWN
def test_description_and_program_agree(case: Any, scene: Scene) -> None:
    _try(case, scene)


@with_bounds.include(operation_id=AT_BOUNDS).parametrize()
@DRAWN
def test_they_agree_at_the_bounds(case: Any, scene: Scene) -> None:
    _try(case, scene)


def _try(case: Any, scene: Scene) -> None:
    with transaction.atomic():
        _lead(case, scene)
        case.call_and_validate(checks=CHECKS, headers={"Authorization": f"Bearer {scene.keys['everything']}"})
        transaction.set_rollback(True)


def _lead(case: Any, scene: Scene) -> None:
    broken = {place for place, one in case.meta.components.items() if one.mode.is_negative} if case.meta else set()
    there = {
        "object": scene.about.pk, "statement": scene.statement.pk, "visit": scene.visit.number,
        "proposal": scene.proposal.number, "part": scene.piece.pk, "file": scene.filing.pk, "job": scene.job.pk,
        "board": "ladder", "edition": 1, "person": scene.people["nobody"].key,
    }  # fmt: skip
    if ParameterLocation.PATH not in broken and case.path_parameters:
        case.path_parameters.update({name: there[name] for name in case.path_parameters})
    if not broken and case.media_type == "application/octet-stream" and not case.body:
        case.body = b"one byte at least, which no schema of bytes can say"
    if not broken and isinstance(case.body, dict) and "after" in case.body:
        case.body["after"] = 1
