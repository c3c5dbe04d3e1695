"""Forecast of a showing: what objects on display will need over the years, and how many spares are enough."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import OutOfRange
from kilter.planning.display.demand import enough, interval, mean_of, mixed, negative_binomial, two_levels
from kilter.planning.display.models import HOURS, Age, WearKind, in_use, life_factors, wear_kinds
from kilter.planning.display.renewals import failures, several
from kilter.planning.display.showing import Seen, Shelf, Showing
from kilter.planning.display.usage import DAYS
from kilter.planning.numbers import number
from kilter.services.stand_on_display import Group, Standing, groups, original_age, stand

Floats = NDArray[np.float64]

Told = Callable[[float, str], None]

MOST_YEARS = 30.0
FLOOR = 1e-300
"""Chance below which a life is not told apart from none."""


@dataclass(frozen=True)
class Need:
    """
    What one kind will need.

    Args:
        kind: Of wear.
        places: That wear so.
        mean: Failures expected.
        low, high: Between which they lie with the share of data/planning/display.toml.
        spares: Enough with that chance.
        chances: Of 0, 1, 2, ... failures.
        by_object: Expected failures by object number, and the chance of one or more.
        shelf: Spares there are; None where nobody said.
        lasts: Chance that those here and in the store last, if the houses need alike; NaN without.
        short: Pieces missing here at any time, on average, while the store buys again; NaN without.
    """

    kind: WearKind
    places: int
    mean: float
    low: int
    high: int
    spares: int
    chances: Floats
    by_object: Mapping[str, tuple[float, float]]
    shelf: Shelf | None
    lasts: float
    short: float


def forecast(
    showing: Showing, today: date, years: float, *, only: str = "", told: Told = lambda _share, _words: None
) -> tuple[tuple[Standing, ...], tuple[Need, ...]]:
    """
    The forecast.

    Args:
        showing: What is on display.
        today: Day from which it looks ahead.
        years: How far.
        only: Number of an object, for its needs alone; what the others tell about lives still counts.
        told: Hears how far it is, and which kind comes next.

    Raises:
        OutOfRange: No such stretch of years.
    """
    if not 0 < years <= MOST_YEARS:
        raise OutOfRange("Cannot forecast a display", f"{years:g} years", f"above 0, up to {MOST_YEARS:.0f}",
                         "Choose how far to look ahead.")  # fmt: skip
    standings = tuple(stand(one, today) for one in showing.objects)
    needs = []
    by_kind = groups_by_kind(standings, today)
    for at, (kind, all_groups) in enumerate(by_kind.items()):
        told(at / len(by_kind), wear_kinds()[kind].words)
        own = [one for one in all_groups if only in ("", one.standing.thing.number)]
        if own:
            needs.append(_need(kind, own, all_groups, years, showing, showing.shelves.get(kind) if not only else None))
    return standings, tuple(sorted(needs, key=lambda one: -one.mean))


def groups_by_kind(standings: Sequence[Standing], today: date) -> dict[str, list[Group]]:
    """All places, by kind of wear."""
    by_kind: dict[str, list[Group]] = {}
    for standing in standings:
        for group in groups(standing, today):
            by_kind.setdefault(group.kind.key, []).append(group)
    return by_kind


def _need(
    key: str, own: Sequence[Group], evidence: Sequence[Group], years: float, showing: Showing, shelf: Shelf | None
) -> Need:
    kind, share = wear_kinds()[key], number("display", "share")
    if kind.by_chance:
        chances, by_object = _by_chance(kind, own, years, showing.seen.get(key, Seen(0, 0.0)))
    else:
        chances, by_object = _by_wear(kind, own, evidence, years)
    low, high = interval(chances, share)
    lasts, short = _on_shelf(chances, years, shelf)
    return Need(kind, sum(one.places for one in own), mean_of(chances), low, high, enough(chances, share), chances,
                by_object, shelf, lasts, short)  # fmt: skip


def _by_chance(
    kind: WearKind, own: Sequence[Group], years: float, seen: Seen
) -> tuple[Floats, dict[str, tuple[float, float]]]:
    """
    Where age does not matter: a gamma belief about the rate, moved by what was counted, and a negative binomial count.

    The belief beforehand has the mean and the variance of the rates that the spread of the lives makes.
    """
    shape, exposure = rate_belief(kind, seen)
    hours: dict[str, float] = {}
    for one in own:
        name = one.standing.thing.number
        hours[name] = hours.get(name, 0.0) + one.places * one.standing.use.hours * years
    each = {name: negative_binomial(shape, exposure, ahead) for name, ahead in hours.items()}
    by_object = {name: (mean_of(one), 1 - float(one[0])) for name, one in each.items()}
    return negative_binomial(shape, exposure, math.fsum(hours.values())), by_object


def rate_belief(kind: WearKind, seen: Seen) -> tuple[float, float]:
    """Shape and exposure of the gamma belief about the rate of a kind that fails by chance. [1, h]"""
    factors, weights = life_factors(kind.spread)
    rates = 1 / (kind.laws[HOURS].life * factors)
    mean = float(weights @ rates)
    variance = float(weights @ (rates - mean) ** 2)
    return mean**2 / variance + seen.failures, mean / variance + seen.hours


def _by_wear(
    kind: WearKind, own: Sequence[Group], evidence: Sequence[Group], years: float
) -> tuple[Floats, dict[str, tuple[float, float]]]:
    """Where age matters: renewals of every place, mixed over what the lives of the kind may be."""
    factors, weights = life_belief(kind, evidence)
    totals: list[Floats] = []
    each: dict[str, list[tuple[float, float]]] = {}
    for factor in factors:
        whole = np.array([1.0])
        nothing: dict[str, float] = {}
        mean: dict[str, float] = {}
        for group in own:
            one = _failures(group, float(factor), years)
            name = group.standing.thing.number
            mean[name] = mean.get(name, 0.0) + group.places * mean_of(one)
            nothing[name] = nothing.get(name, 1.0) * float(one[0]) ** group.places
            whole = np.convolve(whole, several(one, group.places))
        totals.append(whole)
        for name in mean:
            each.setdefault(name, []).append((mean[name], 1 - nothing[name]))
    chances = mixed(totals, weights)
    by_object = {name: (float(weights @ [m for m, _ in rows]), float(weights @ [p for _, p in rows]))
                 for name, rows in each.items()}  # fmt: skip
    return chances / chances.sum(), by_object


def _failures(group: Group, factor: float, years: float) -> Floats:
    """Chance of 0, 1, 2, ... failures of one place, if lives are so many times as long."""
    part = in_use(group.kind, group.standing.use, group.age).scaled(factor)
    return failures(part.survival, lambda t: part.survival(t, new=True), years)


def life_belief(kind: WearKind, seen: Sequence[Group]) -> tuple[Floats, Floats]:
    """
    Factors on the lives of a kind and their weights, moved by the parts that still live and those found failed.

    An original part that lives counts as one that lived to its age; a renewed place counts as a failure by the age of
    the old part where it is written down that it had failed, and as one that lived where it had not.
    """
    factors, prior = life_factors(kind.spread)
    logs = np.log(prior)
    for at, factor in enumerate(factors):
        for group in seen:
            if group.original:
                logs[at] += group.places * _log(_lived(group, group.age, factor))
        for old in _old_parts(seen):
            lived = _lived(old.group, old.age, factor)
            logs[at] += old.failed * _log(1 - lived) + (old.count - old.failed) * _log(lived)
    weights = np.exp(logs - logs.max())
    whole: Floats = weights / weights.sum()
    return factors, whole


@dataclass(frozen=True)
class _Old:
    """Parts that were taken out: their group, how many, how many had failed, and their age then."""

    group: Group
    count: int
    failed: int
    age: Age


def _old_parts(own: Sequence[Group]) -> list[_Old]:
    """Of the first renewal of a place in an object; later ones would need the age of the first."""
    found, seen = [], set()
    for group in sorted((one for one in own if one.day is not None), key=lambda one: one.day or date.max):
        thing = group.standing.thing
        for one in thing.renewed:
            mine = one.kind == group.kind.key and one.day == group.day
            if mine and one.failed is not None and thing.number not in seen:
                seen.add(thing.number)
                found.append(_Old(group, one.count, one.failed, original_age(group.standing, one.day)))
    return found


def _lived(group: Group, age: Age, factor: float) -> float:
    return in_use(group.kind, group.standing.use, age).scaled(factor).lived


def _log(chance: float) -> float:
    return math.log(max(chance, FLOOR))


def _on_shelf(chances: Floats, years: float, shelf: Shelf | None) -> tuple[float, float]:
    """Chance that the spares last, and pieces missing here on average while the store buys again."""
    if shelf is None:
        return math.nan, math.nan
    own = shelf.here + shelf.store // shelf.houses
    rate = mean_of(chances) / years
    found = two_levels([rate] * shelf.houses, [shelf.here] * shelf.houses, shelf.store,
                       fetch=shelf.fetch_days / DAYS, buy=shelf.buy_days / DAYS)  # fmt: skip
    return float(chances[: own + 1].sum()), found.short[0]
