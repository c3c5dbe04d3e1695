"""Days and numbers that a person typed into a form; nothing typed means that nobody knows, and never 0."""

from __future__ import annotations

import re
from datetime import date

from kilter.measure.errors import BadInput
from kilter.web.typed_figures import in_bench_notation

TWO_WAYS = re.compile(r"\d{1,3},\d{3}")
NUMBER = re.compile(r"-?\d+(\.\d*)?")
WHOLE = re.compile(r"\d{1,9}")
BLANKS = (" ", "\u00a0", "\u202f")


def day_typed(text: str, name: str, doing: str) -> date | None:
    """
    A day, as a browser's own field sends it.

    Raises:
        BadInput: Something stands there that is no day.
    """
    if not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise BadInput(doing, f"'{text[:40]}' under '{name}'", "year-month-day, such as 2025-11-03",
                       "Type it so.") from None  # fmt: skip


def number_typed(text: str, name: str, doing: str) -> float | None:
    """
    A number, with the decimal sign of the page's language.

    Raises:
        BadInput: Something stands there that is none, or may mean two.
    """
    told = text.strip()
    for blank in BLANKS:
        told = told.replace(blank, "")
    if not told:
        return None
    told = in_bench_notation(told)
    if TWO_WAYS.fullmatch(told):
        many, few = told.replace(",", ""), told.replace(",", ".")
        raise BadInput(doing, f"'{text[:40]}' under '{name}', which may mean {few} or {many}",
                       "a number without a sign for thousands", f"Type {many} or {few}0.")  # fmt: skip
    told = told.replace(",", ".")
    if not NUMBER.fullmatch(told):
        raise BadInput(doing, f"'{text[:40]}' under '{name}'", "a number, or nothing where nobody knows",
                       "Type it anew, without a unit.")  # fmt: skip
    return float(told)


def whole_typed(text: str, name: str, doing: str) -> int | None:
    """
    A whole number.

    Raises:
        BadInput: Something stands there that is none.
    """
    if not text.strip():
        return None
    if not WHOLE.fullmatch(text.strip()):
        raise BadInput(doing, f"'{text[:40]}' under '{name}'", "a whole number, or nothing where nobody knows",
                       "Type it anew.")  # fmt: skip
    return int(text.strip())
