"""Plan a showing: what is due when, and which parts are worth renewing before they fail."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from kilter.planning.display.due import Due, due, inspections
from kilter.planning.display.models import Age, Use, in_use, wear_kinds
from kilter.planning.display.replacement import Replacement, best_age
from kilter.planning.display.showing import Showing
from kilter.planning.display.usage import DAYS
from kilter.planning.numbers import number
from kilter.services.forecast_display import Need, forecast
from kilter.services.stand_on_display import Group, Standing, groups

CAUTIONS = (
    "Lives of old parts are known to within a factor of two at best; the intervals hold that, and nothing makes them "
    "narrower but counts. What is assumed is said for every object.",
    "A forecast says how often, not when, and nothing about safety: an object on display is inspected by a competent "
    "person, and is switched off and unplugged when nobody is there.",
)
KEPT = 4096
"""Ages to renew at that are remembered."""
RENEW, OVER_AGE, WAIT, LEAVE = "renew early", "renew now", "wait for the failure", "leave it"


@dataclass(frozen=True)
class Advice:
    """
    Whether to renew places of a kind before they fail.

    Args:
        group: Which.
        verdict: RENEW, OVER_AGE, WAIT, or LEAVE where an early renewal costs more heritage than the failure.
        best: Age that costs least, in years of this use.
        day: When that is; None for waiting.
        planned, failure: What both cost, heritage counted in. [min]
    """

    group: Group
    verdict: str
    best: Replacement
    day: date | None
    planned: float
    failure: float


@dataclass(frozen=True)
class DisplayPlan:
    """
    Everything about a showing on a day.

    Args:
        showing: Title and objects.
        today: The day.
        years: Looked ahead.
        standings: Objects as they stand.
        needs: By kind, most first.
        advice: Early renewals, and where it is better not to.
        due: What is due, soonest first.
    """

    showing: Showing
    today: date
    years: float
    standings: tuple[Standing, ...]
    needs: tuple[Need, ...]
    advice: tuple[Advice, ...]
    due: tuple[Due, ...]


def plan_display(showing: Showing, today: date, years: float) -> DisplayPlan:
    """
    Plans it.

    Args:
        showing: What is on display.
        today: The day on which it is asked.
        years: To look ahead.

    Raises:
        BadInput: Counts, days or years that cannot be.
    """
    standings, needs = forecast(showing, today, years)
    advice = advise(standings, today)
    return DisplayPlan(showing, today, years, standings, needs, advice, dates_of(standings, advice, today, years))


def advise(standings: Sequence[Standing], today: date) -> tuple[Advice, ...]:
    """For every group of places that wears, whether to renew it before it fails."""
    return tuple(_advice(group, today) for one in standings for group in groups(one, today) if _worn(group))


def dates_of(
    standings: Sequence[Standing], advice: Sequence[Advice], today: date, years: float
) -> tuple[Due, ...]:
    """What is due: inspections, looks, and renewals that pay within years; what is over its day first, then by day."""
    dates = [*_inspections(standings, today), *_renewals(advice, today, years)]
    return tuple(sorted(dates, key=lambda one: (one.day, not one.over, one.object, one.key)))


def _worn(group: Group) -> bool:
    return in_use(group.kind, group.standing.use, Age()).wears


def _advice(group: Group, today: date) -> Advice:
    """
    By renewal-reward at the middle of what is believed about its life.

    Taking out an original part that still works costs its heritage; a failure costs it as well only where what fails is
    thrown away, which nobody needs to do. So heritage stands on the side of the planned renewal.
    """
    minutes = group.kind.minutes
    planned = minutes["planned"] + (minutes["heritage"] if group.original else 0.0)
    failure = minutes["failure"]
    best = _best(group.kind.key, group.standing.use, planned, failure)
    if planned >= failure:
        return Advice(group, LEAVE, best, None, planned, failure)
    if math.isinf(best.age) or best.saved < number("display", "enough_saved"):
        return Advice(group, WAIT, best, None, planned, failure)
    left = best.age - _age_in_years(group)
    day = today + timedelta(days=max(0.0, left) * DAYS)
    return Advice(group, RENEW if left > 0 else OVER_AGE, best, day, planned, failure)


@lru_cache(maxsize=KEPT)
def _best(kind: str, use: Use, planned: float, failure: float) -> Replacement:
    """The same for all parts of a kind in one use, whatever their age."""
    part = in_use(wear_kinds()[kind], use, Age())
    return best_age(lambda t: part.survival(t, new=True), planned, failure)


def _age_in_years(group: Group) -> float:
    """Years of this use that would wear a new part as far as this one is worn."""
    new = in_use(group.kind, group.standing.use, Age())
    lived = in_use(group.kind, group.standing.use, group.age).lived
    low, high = 0.0, 1.0
    while float(new.survival(high)) > lived and high < 1e4:
        high *= 2
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if float(new.survival(middle)) > lived else (low, middle)
    return low


def _inspections(standings: Sequence[Standing], today: date) -> list[Due]:
    found = []
    for one in standings:
        thing = one.thing
        found += [due(thing.number, row["key"], row["words"], int(row["months"]), thing.done.get(row["key"]), today,
                      again=thing.again.get(row["key"]))
                  for row in inspections() if one.use.hours or not row.get("running_only")]  # fmt: skip
        for group in {group.kind.key: group for group in groups(one, today)}.values():
            look = group.kind.look
            if look is not None:
                key = f"look at {group.kind.key}"
                words = f"Look at: {group.kind.words}: {look[1]}"
                found.append(due(thing.number, key, words, look[0], thing.done.get(key), today,
                                 again=thing.again.get(key)))  # fmt: skip
    return found


def _renewals(advice: Sequence[Advice], today: date, years: float) -> list[Due]:
    found = []
    for one in advice:
        if one.day is not None and (one.day - today).days <= years * DAYS:
            group = one.group
            words = f"Renew {group.places} × {group.kind.words} before it fails"
            key = f"renew {group.kind.key} of {group.day or 'the original ones'}"
            found.append(Due(group.standing.thing.number, key, words, one.day, group.day, 0,
                             over=one.verdict == OVER_AGE))  # fmt: skip
    return found
