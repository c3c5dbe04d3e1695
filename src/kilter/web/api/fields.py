"""Fields that several answers have, and how a row tells them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from kilter.web.api.operation import MOST_NUMBER
from kilter.web.api.records import Field, may
from kilter.web.api.shapes import Maybe, Text, Told, Whole

ID = Field(Whole(1), "of this row, for addresses")
NUMBER = Whole(1, MOST_NUMBER)
WHEN = Field(Told("date-time"), "UTC")
WHO = Field(Told(), "key of the person")
TOLD = Told()
WHY = Text(2000)
BY = {"at": WHEN, "who": WHO}
VISIT = may(Maybe(NUMBER), "number of the visit during which")


def by(row: Any) -> dict[str, str]:
    """When and who."""
    return {"at": moment(row.at), "who": row.who.key}


def moment(at: datetime) -> str:
    """
    ISO 8601, UTC.

    >>> from datetime import UTC
    >>> moment(datetime(2026, 5, 4, 3, 2, 1, tzinfo=UTC))
    '2026-05-04T03:02:01.000000Z'
    """
    return at.isoformat(timespec="microseconds").replace("+00:00", "Z")


def moment_or_none(at: datetime | None) -> str | None:
    """The same, or null where it has not happened."""
    return None if at is None else moment(at)


def number_of(row: Any) -> int | None:
    """Number of a visit, entry or proposal, null where there is none."""
    return None if row is None else row.number
