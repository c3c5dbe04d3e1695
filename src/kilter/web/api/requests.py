"""What a request carries: its key, its parameters, its body, each held to the operation's row of the table."""

from __future__ import annotations

import re
import tempfile
from typing import IO, Any

from django.http import HttpRequest, QueryDict

from kilter.measure.tables import table
from kilter.store.models import Person
from kilter.store.verbs.tokens import PREFIX, person_of_token
from kilter.web.api.json_text import read_json
from kilter.web.api.operation import PLACES, Operation
from kilter.web.api.refusals import Refused, not_there
from kilter.web.api.shapes import Misfit, shown

KEY = re.compile(rf"Bearer +({PREFIX}[A-Za-z0-9_\-]{{1,100}})", re.IGNORECASE)
JSON, BYTES = "application/json", "application/octet-stream"
PIECE, IN_MEMORY = 1 << 16, 1 << 20
FIX = "Look at the description of the request in docs/api.md or /api/openapi.json."


def person_at(request: HttpRequest, doing: str) -> Person:
    """
    Whose key the request carries; cookies count for nothing here.

    Raises:
        Refused: None, or one that no longer stands for anybody.
    """
    given = KEY.fullmatch(request.headers.get("Authorization", "").strip())
    person = person_of_token(given[1]) if given else None
    if person is None:
        raise Refused(401, doing, "a key that is not known" if given else "no key",
                      f"the header 'Authorization: Bearer {PREFIX}...'", "Make a key on the page about yourself.",
                      {"WWW-Authenticate": 'Bearer realm="kilter"'})  # fmt: skip
    return person


def places_of(parts: dict[str, str], doing: str) -> dict[str, Any]:
    """
    What stands in the address.

    Raises:
        Refused: Something that nothing can have as its number or key.
    """
    try:
        return {name: PLACES[name].shape.read(text, name) for name, text in parts.items()}
    except Misfit as misfit:
        raise not_there(doing, f"{misfit.found} as {misfit.where}", misfit.allowed) from None


def query_of(operation: Operation, given: QueryDict, doing: str) -> dict[str, Any]:
    """
    What stands behind the question mark.

    Raises:
        Refused: A name that is unknown or stands there twice, or a value that does not fit.
    """
    known, names = operation.query, ", ".join(operation.query) or "no parameter"
    odd = next((f"{shown(name)} {len(values)} times" for name, values in given.lists()
                if name not in known or len(values) != 1), "")  # fmt: skip
    missing = [name for name, one in known.items() if not one.optional and name not in given]
    if odd or missing:
        raise unfit(doing, Misfit("the address", odd or f"no {', '.join(missing)}", names))
    try:
        return {name: known[name].shape.read(values[0], name) for name, values in given.lists()}
    except Misfit as misfit:
        raise unfit(doing, misfit) from None


def body_of(operation: Operation, request: HttpRequest, doing: str) -> dict[str, Any]:
    """
    The JSON of the request.

    Raises:
        Refused: It is missing, too large, of another media type, or does not fit.
    """
    size = _size(request)
    if operation.takes is None:
        if size and request.method != "GET" and not operation.takes_file:
            raise unfit(doing, Misfit("the body", f"{size} bytes", "no body"))
        return {}
    if not size:
        raise unfit(doing, Misfit("the body", "no body", f"JSON with {', '.join(operation.takes.fields)}"))
    _check_type(request, JSON, doing)
    most = int(table("web_api")["body"][operation.most])
    _check_size(size, most, doing)
    try:
        taken: dict[str, Any] = operation.takes.check(read_json(request.read(size)), "")
    except Misfit as misfit:
        raise unfit(doing, misfit) from None
    return taken


def upload_of(operation: Operation, request: HttpRequest, doing: str) -> IO[bytes] | None:
    """
    The bytes of the request, put aside so that no transaction waits for a slow line; the caller closes it.

    Raises:
        Refused: There are none, too many, or they do not say that they are bytes.
    """
    if not operation.takes_file:
        return None
    size, most = _size(request), int(table("web")["upload"]["most_bytes"])
    if not size:
        raise unfit(doing, Misfit("the body", "an empty file", "one byte at least"))
    _check_type(request, BYTES, doing)
    _check_size(size, most, doing)
    aside = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115
    try:
        left = size
        while left and (piece := request.read(min(left, PIECE))):
            aside.write(piece)
            left -= len(piece)
        if left:
            found = f"an end after {size - left} bytes"
            raise unfit(doing, Misfit("the body", found, f"{size} bytes, as was announced"))  # noqa: TRY301
        aside.seek(0)
    except BaseException:
        aside.close()
        raise
    return aside


def unfit(doing: str, misfit: Misfit) -> Refused:
    """The refusal of what does not fit."""
    where = f" under '{misfit.where}'" if misfit.where else ""
    return Refused(400, doing, f"{misfit.found}{where}", misfit.allowed, FIX)


def _size(request: HttpRequest) -> int:
    text = str(request.META.get("CONTENT_LENGTH") or "0")
    return int(text) if re.fullmatch(r"[0-9]{1,18}", text) else 0


def _check_size(size: int, most: int, doing: str) -> None:
    if size > most:
        raise Refused(413, doing, f"{size:,} bytes", f"at most {most:,} bytes", "Send less at once.")


def _check_type(request: HttpRequest, wanted: str, doing: str) -> None:
    charset = str((request.content_params or {}).get("charset", "utf-8")).lower()
    if request.content_type != wanted or charset not in ("utf-8", "utf8"):
        raise Refused(415, doing, shown(request.META.get("CONTENT_TYPE", "")), wanted,
                      f"Send it with the header 'Content-Type: {wanted}'.")  # fmt: skip
