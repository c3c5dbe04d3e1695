"""The description for programs, OpenAPI 3.1, made from the table of operations."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

from kilter.web.api.operation import PLACES, Operation
from kilter.web.api.records import Field, records_in
from kilter.web.api.refusals import MEANS, REFUSAL
from kilter.web.api.requests import BYTES, JSON

ABOUT = (
    "The record of a collection's restorers, for programs that act for a person. Every request carries the person's "
    "key in the header 'Authorization: Bearer klt_...'; cookies count for nothing. The key may do what the person may. "
    "A field or parameter that is not described is refused. Numbers are in SI units; null stands for a number that JSON"
    " cannot write. A method that an address does not take is answered with 405."
)


def document(operations: tuple[Operation, ...]) -> dict[str, Any]:
    """The whole of it, as plain data."""
    paths: dict[str, Any] = {}
    for one in operations:
        paths.setdefault(one.path, {})[one.method.lower()] = _operation(one)
    shapes = [shape for one in operations for shape in (one.takes, one.gives) if shape is not None]
    records = {name: record for shape in (*shapes, REFUSAL) for name, record in records_in(shape).items()}
    return {
        "openapi": "3.1.0",
        "info": {"title": "Kilter", "version": version("kilter"), "description": ABOUT},
        "servers": [{"url": "/api"}],
        "paths": paths,
        "components": {
            "securitySchemes": {"key": {"type": "http", "scheme": "bearer", "bearerFormat": "klt_..."}},
            "responses": {f"no-{status}": _refusal(status) for status in MEANS},
            "schemas": {name: records[name].whole() for name in sorted(records)},
        },
    }


def _operation(one: Operation) -> dict[str, Any]:
    found: dict[str, Any] = {"operationId": one.name, "summary": one.words}
    if one.verb:
        found["description"] = f"Needs a role that may: {one.verb}."
    found["security"] = [{"key": []}] if one.verb else []
    parameters = [
        *(_parameter(name, "path", PLACES[name]) for name in one.places),
        *(_parameter(name, "query", field) for name, field in one.query.items()),
    ]
    if parameters:
        found["parameters"] = parameters
    if one.takes is not None:
        found["requestBody"] = {"required": True, "content": {JSON: {"schema": one.takes.schema()}}}
    elif one.takes_file:
        found["requestBody"] = {"required": True, "description": "One byte at least.", "content": {BYTES: {}}}
    content = {BYTES: {}} if one.gives is None else {JSON: {"schema": one.gives.schema()}}
    found["responses"] = {
        str(one.status): {"description": "As asked for.", "content": content},
        **{str(status): {"$ref": f"#/components/responses/no-{status}"} for status in _statuses(one)},
    }
    return found


def _parameter(name: str, place: str, one: Field) -> dict[str, Any]:
    words = {"description": one.words} if one.words else {}
    return {"name": name, "in": place, "required": not one.optional, "schema": one.shape.schema(), **words}


def _refusal(status: int) -> dict[str, Any]:
    return {"description": MEANS[status], "content": {JSON: {"schema": REFUSAL.schema()}}}


def _statuses(one: Operation) -> list[int]:
    """Every no that the operation can answer with."""
    wanted = {400, *((401, 403, 503) if one.verb else ())}
    wanted |= {404} if one.places else set()
    wanted |= {409} if one.may_conflict else set()
    return sorted(wanted | ({413, 415} if one.takes is not None or one.takes_file else set()))
