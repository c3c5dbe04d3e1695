"""The channels of a soak plan in a form: a row for each, limits as they are typed at the bench."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.notation import read_quantity
from kilter.measure.quantities import quantities, quantity
from kilter.planning.soak.channel import Channel
from kilter.web.typed_figures import in_bench_notation

DOING = "Cannot keep the plan of the soak"
FIELDS = ("name", "quantity", "low", "high", "why")
FIRST_ROWS, MORE_ROWS, MOST_ROWS = 6, 3, 100
"""Rows of an empty form, empty rows below those that are filled, and rows that are looked at."""


def typed_rows(post: Mapping[str, Any] | None, channels: Sequence[Channel], least: int) -> list[dict[str, str]]:
    """
    What stands in the form: what was typed, else the channels, and some empty rows.

    Args:
        post: The form as it came; None for the first look.
        channels: Of the plan that stands.
        least: Rows at least.
    """
    if post is not None:
        rows = [row for row in _rows(post) if any(row.values())]
    else:
        rows = [{"name": one.name, "quantity": one.quantity, "low": _shown(one.low, one.unit),
                 "high": _shown(one.high, one.unit), "why": one.why} for one in channels]  # fmt: skip
    empty = dict.fromkeys(FIELDS, "")
    return rows + [dict(empty) for _ in range(max(MORE_ROWS, least - len(rows)))]


def rows_in(post: Mapping[str, Any]) -> list[dict[str, Any]]:
    """
    The channels of a form as the record keeps them; a row without a name is left out.

    Raises:
        BadInput: A limit is no number with the unit of its quantity, or a row without a name holds something.
    """
    found = []
    for row in _rows(post):
        if not row["name"]:
            left = next((row[field] for field in ("low", "high", "why") if row[field]), "")
            if left:
                raise BadInput(DOING, f"'{left[:40]}' without a channel", "a name in the same row",
                               "Name the channel, or empty the row.")  # fmt: skip
            continue
        found.append({**row, "low": _limit(row, "low"), "high": _limit(row, "high")})
    return found


def hours_in(text: str) -> float:
    """
    Hours as they were typed.

    Raises:
        BadInput: No number.
    """
    try:
        return float(text.strip().replace(",", ".").removesuffix("h"))
    except ValueError:
        found = f"'{text[:40]}' as hours"
        raise BadInput("Cannot plan a soak", found, "a number such as 24", "Type it anew.") from None


def _rows(post: Mapping[str, Any]) -> list[dict[str, str]]:
    rows = []
    for place in range(MOST_ROWS):
        if f"name-{place}" not in post:
            break
        rows.append({field: str(post.get(f"{field}-{place}", "")).strip() for field in FIELDS})
    return rows


def _shown(limit: float, unit: str) -> str:
    return f"{limit:.9g} {unit}".strip() if math.isfinite(limit) else ""


def _limit(row: Mapping[str, str], side: str) -> float | None:
    text = row[side]
    if not text:
        return None
    unit = quantity(row["quantity"]).unit if row["quantity"] in quantities() else ""
    return read_quantity(in_bench_notation(text), unit).value
