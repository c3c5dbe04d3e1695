"""How far the parts of an object on display are worn, and how long they may still last, with an interval."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from kilter.planning.display.models import in_use
from kilter.planning.display.showing import Seen, Showing
from kilter.planning.numbers import number
from kilter.services.forecast_display import groups_by_kind, life_belief, rate_belief
from kilter.services.stand_on_display import Group, Standing

Floats = NDArray[np.float64]
FARTHEST_YEARS = 200.0
"""Beyond which no time to a failure is told."""
STEPS = 60
"""Halvings of the search."""


@dataclass(frozen=True)
class Worn:
    """
    Places of one kind and age in an object.

    Args:
        group: Which.
        within_a_year: Chance that one of these places fails within a year.
        low, middle, high: Years after which a place will have failed with half of what the share leaves, with 50 %, and
            with the rest; infinite beyond FARTHEST_YEARS.
    """

    group: Group
    within_a_year: float
    low: float
    middle: float
    high: float


def worn_parts(showing: Showing, standings: Sequence[Standing], subject: str, today: date) -> tuple[Worn, ...]:
    """
    Every group of places in one object.

    What all objects on display tell about the lives of a kind counts, as in the forecast.

    Args:
        showing: What is on display.
        standings: Its objects as they stand.
        subject: Number of the object.
        today: The day.
    """
    found = []
    for all_groups in groups_by_kind(standings, today).values():
        own = [one for one in all_groups if one.standing.thing.number == subject]
        found += [_worn(one, _survival(one, all_groups, showing)) for one in own]
    return tuple(sorted(found, key=lambda one: one.middle))


def _worn(group: Group, lives: Callable[[float], float]) -> Worn:
    left = (1 - number("display", "share")) / 2
    return Worn(group, 1 - lives(1.0) ** group.places, *(_when(lives, share) for share in (1 - left, 0.5, left)))


def _survival(group: Group, seen: Sequence[Group], showing: Showing) -> Callable[[float], float]:
    """Chance that one place lives on so many years, over what its life may be."""
    if group.kind.by_chance:
        shape, exposure = rate_belief(group.kind, showing.seen.get(group.kind.key, Seen(0, 0.0)))
        hours = group.standing.use.hours
        return lambda years: (exposure / (exposure + hours * years)) ** shape
    factors, weights = life_belief(group.kind, seen)
    part = in_use(group.kind, group.standing.use, group.age)
    scaled = [part.scaled(float(one)) for one in factors]

    def lives(years: float) -> float:
        return float(sum(weight * float(one.survival(years)) for weight, one in zip(weights, scaled, strict=True)))

    return lives


def _when(lives: Callable[[float], float], share: float) -> float:
    """Years after which only that share lives on."""
    low, high = 0.0, FARTHEST_YEARS
    if lives(high) > share:
        return float("inf")
    for _ in range(STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if lives(middle) > share else (low, middle)
    return high
