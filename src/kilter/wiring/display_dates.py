"""What is due on display by the record, and how sure: remembered until the record changes or the day ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from threading import Lock
from typing import Any

from kilter.planning.display.due import Due
from kilter.planning.display.showing import Showing
from kilter.services.display_plain import need_plain
from kilter.services.forecast_display import forecast, groups_by_kind
from kilter.services.plan_display import Advice, advise, dates_of
from kilter.services.stand_on_display import Standing, stand
from kilter.store.journal import head
from kilter.wiring.record_display import showing_of

YEARS = 5.0
"""How far ahead renewals are put on the list, unless said."""


@dataclass(frozen=True)
class Now:
    """
    Everything on display on a day.

    Args:
        showing: What is there.
        today: The day.
        standings: Objects as they stand.
        advice: Early renewals, and where it is better not to.
        due: What is due, over its day first.
        groups: Groups of places of one kind and age, by which a forecast takes its time.
    """

    showing: Showing
    today: date
    standings: tuple[Standing, ...]
    advice: tuple[Advice, ...]
    due: tuple[Due, ...]
    groups: int

    def standing_of(self, number: str) -> Standing | None:
        """An object's, by its number; None where it is not on display."""
        return next((one for one in self.standings if one.thing.number == number), None)


_turn = Lock()
_known: dict[str, Now] = {}


def display_now(today: date) -> Now:
    """
    What the record says on a day.

    Raises:
        BadInput: The board of an object cannot be read.
    """
    key = f"{today} {head()}"
    with _turn:
        if key not in _known:
            _known.clear()
            _known[key] = _now(today)
        return _known[key]


def _now(today: date) -> Now:
    showing = showing_of(today)
    standings = tuple(stand(one, today) for one in showing.objects)
    advice = advise(standings, today)
    count = sum(len(one) for one in groups_by_kind(standings, today).values())
    return Now(showing, today, standings, advice, dates_of(standings, advice, today, YEARS), count)


def forecast_record(years: float, today: date, told: Callable[[float, str], None] = lambda _s, _w: None) -> Any:
    """
    The forecast of everything on display as plain data.

    Args:
        years: To look ahead.
        today: From which day.
        told: Hears how far it is.

    Raises:
        OutOfRange: No such stretch of years.
    """
    now = display_now(today)
    _, needs = forecast(now.showing, today, years, told=told)
    return {"on": today.isoformat(), "years": years, "objects": len(now.standings),
            "needs": [need_plain(one) for one in needs]}  # fmt: skip
