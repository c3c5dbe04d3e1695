"""One view for every operation: find its row, let the right people through, check, do it, answer."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from typing import cast

from django.db import DatabaseError
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.views.decorators.csrf import csrf_exempt

from kilter.measure.errors import KilterError
from kilter.services.permissions import demand
from kilter.store.models import Person
from kilter.store.trouble import explained
from kilter.web.api.json_text import json_response
from kilter.web.api.operation import LOOK, Call, Operation
from kilter.web.api.operations import OPERATIONS
from kilter.web.api.refusals import Refused, broken, refusal, refusal_of
from kilter.web.api.requests import body_of, person_at, places_of, query_of, upload_of

LOST = "Cannot find the address"


@csrf_exempt  # a browser adds no key to a request by itself, and its cookies are not looked at
def api(request: HttpRequest, rest: str) -> HttpResponseBase:
    """
    The answer to any request under /api/.

    Args:
        request: With its key in the header 'Authorization'.
        rest: The address below /api/.
    """
    doing = "Cannot answer"
    try:
        operation, parts = _found(request, f"/{rest}")
        doing = f"Cannot do '{operation.name}'"
        return _answered(operation, parts, request, doing)
    except Refused as refused:
        return refusal(refused.status, refused.parts, refused.headers)
    except KilterError as error:
        return refusal_of(error)
    except (DatabaseError, OSError) as error:
        return refusal_of(explained(doing, error), 503)
    except Exception:
        logging.getLogger("kilter.web").exception("%s %s", request.method, request.path)
        return broken()


def _answered(operation: Operation, parts: dict[str, str], request: HttpRequest, doing: str) -> HttpResponseBase:
    actor = _let_in(operation, request, doing)
    path = places_of(parts, doing)
    query = query_of(operation, request.GET, doing)
    body, upload = body_of(operation, request, doing), upload_of(operation, request, doing)
    try:
        done = operation.work(Call(actor, path, query, body, upload))
    finally:
        if upload is not None:
            upload.close()
    return done if isinstance(done, HttpResponseBase) else json_response(done, operation.status)


def _let_in(operation: Operation, request: HttpRequest, doing: str) -> Person:
    if not operation.verb:
        return cast("Person", None)
    actor = person_at(request, doing)
    for verb in (LOOK, operation.verb):
        demand(actor.roles(), verb)
    return actor


def _found(request: HttpRequest, address: str) -> tuple[Operation, dict[str, str]]:
    """The operation of an address and method, and what stands at its braces."""
    there = list(matching(address))
    if not there:
        raise Refused(404, LOST, ascii(address[:80]), "the addresses of /api/openapi.json", "Look it up there.")
    method = "GET" if request.method == "HEAD" else request.method
    for operation, parts in there:
        if operation.method == method:
            return operation, parts
    takes = ", ".join(sorted({operation.method for operation, _ in there}))
    raise Refused(405, "Cannot answer", f"the method {str(request.method)[:20]!a}", takes, "Use one of these.",
                  {"Allow": takes})  # fmt: skip


def matching(address: str) -> Iterator[tuple[Operation, dict[str, str]]]:
    """Operations at an address, whatever their method."""
    given = address.split("/")
    for operation in OPERATIONS:
        wanted = operation.path.split("/")
        pairs = list(zip(wanted, given, strict=False))
        if len(wanted) == len(given) and all(one == other or one.startswith("{") for one, other in pairs):
            yield operation, {one[1:-1]: other for one, other in pairs if one.startswith("{")}
