"""JSON, strictly: no name twice, no number that JSON does not know, no number beyond 64 bits; and back."""

from __future__ import annotations

import json
import math
from typing import Any

from django.http import HttpResponse

from kilter.web.api.shapes import MOST_WHOLE, Misfit, shown

MOST_DIGITS = 20


def read_json(raw: bytes) -> Any:
    """
    The value of a request.

    Raises:
        Misfit: It is no JSON in UTF-8, or holds what the record cannot.
    """
    try:
        return json.loads(raw.decode("utf-8"), object_pairs_hook=_once, parse_int=_whole, parse_float=_finite,
                          parse_constant=_refuse)  # fmt: skip
    except UnicodeDecodeError as error:
        raise Misfit("the body", f"byte {error.start}, which is no UTF-8", "JSON in UTF-8") from None
    except RecursionError:
        raise Misfit("the body", "more levels than anybody needs", "the fields of the description") from None
    except ValueError as error:
        raise Misfit("the body", f"no JSON ({error})", "JSON in UTF-8") from None


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    told = dict(pairs)
    if len(told) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for place, name in enumerate(names) if name in names[:place])
        raise Misfit("the body", f"the field {shown(twice)} twice", "every field once")
    return told


def _whole(text: str) -> int:
    if len(text) > MOST_DIGITS or abs(int(text)) > MOST_WHOLE:
        raise Misfit("the body", f"the number {text[:30]}", f"whole numbers up to {MOST_WHOLE}")
    return int(text)


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise Misfit("the body", f"the number {text[:30]}", "numbers that 64 bits hold")
    return number


def _refuse(text: str) -> None:
    raise Misfit("the body", text, "numbers that JSON knows")


def plain(value: Any) -> Any:
    """
    Plain data without numbers that JSON cannot write: they are null.

    >>> plain({"a": (1.5, float("inf"))})
    {'a': [1.5, None]}
    """
    if isinstance(value, dict):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def json_response(value: Any, status: int = 200) -> HttpResponse:
    """An answer."""
    text = json.dumps(plain(value), allow_nan=False)
    return HttpResponse(text + "\n", content_type="application/json", status=status)
