"""Answers that are no: four parts as JSON, with the status that says whose turn it is."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import DatabaseError, IntegrityError
from django.http import HttpResponse

from kilter.measure.errors import KilterError, NotAllowed, NotAvailable
from kilter.web.api.json_text import json_response
from kilter.web.api.records import Record
from kilter.web.api.shapes import Told

REFUSAL = Record("Refusal", dict.fromkeys(("doing", "found", "allowed", "next"), Told()))
MEANS = {
    400: "The request does not fit its description: an unknown or missing field, a wrong type, too long a text.",
    401: "No key, or one that is unknown, was taken back, or whose person is no longer let in.",
    403: "The person's roles do not allow it, or others have to agree first.",
    404: "The address leads to nothing: also where it is there, but belongs to another object.",
    405: "The address does not take this method.",
    409: "The request fits, and the record refuses it as things stand: somebody was faster, a visit is closed, "
    "a reading cannot be understood.",
    413: "The request is larger than is taken.",
    415: "The request is of another media type.",
    503: "The database or the disk does not answer; nothing was recorded.",
}


class Refused(Exception):
    """A request that is turned down before any verb."""

    def __init__(
        self, status: int, doing: str, found: str, allowed: str, do_next: str, headers: Mapping[str, str] | None = None
    ) -> None:
        super().__init__(found)
        self.status, self.parts, self.headers = status, (doing, found, allowed, do_next), dict(headers or {})


def not_there(doing: str, found: str, allowed: str) -> Refused:
    """What an address names is not there."""
    return Refused(404, doing, found, allowed, "Look it up in the list first.")


def status_of(error: KilterError) -> int:
    """
    403 for what may not be done, 503 where database, disk or an engine failed, 409 for what the record refuses.

    >>> from kilter.measure.errors import BadInput
    >>> status_of(NotAllowed("", "", "", "")), status_of(BadInput("", "", "", ""))
    (403, 409)
    """
    if isinstance(error, NotAllowed):
        return 403
    cause = error.__cause__
    failed = isinstance(cause, (DatabaseError, OSError)) and not isinstance(cause, IntegrityError)
    return 503 if failed or isinstance(error, NotAvailable) else 409


def refusal(status: int, parts: tuple[str, str, str, str], headers: Mapping[str, str] | None = None) -> HttpResponse:
    """The answer."""
    response = json_response(dict(zip(REFUSAL.fields, parts, strict=True)), status)
    for name, value in (headers or {}).items():
        response[name] = value
    return response


def refusal_of(error: KilterError, status: int = 0) -> HttpResponse:
    """The answer to a request that raised one of our errors."""
    return refusal(status or status_of(error), (error.doing, error.found, error.allowed, error.do_next))


def broken() -> HttpResponse:
    """A fault of the program itself; what it was stands in the server's log alone."""
    return refusal(500, ("Cannot answer", "a fault of the program", "no faults", "Tell who looks after the server."))
