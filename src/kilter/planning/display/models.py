"""Kinds of wear, from data/planning/wear.toml, and a part of such a kind in its use."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kilter.measure.tables import table
from kilter.planning.display.weibull import Law, Wearing, warmer_life

Floats = NDArray[np.float64]

HOURS, SWITCH_ONS, YEARS = "hours", "switch_ons", "years"
CLOCKS = (HOURS, SWITCH_ONS, YEARS)
NODES = 9
"""Lives by which the ignorance of the true one is stood for."""


@dataclass(frozen=True)
class WearKind:
    """
    One kind of wear; the fields are those that data/planning/wear.toml explains.

    Args:
        laws: By clock.
        celsius: Temperature for which hours are told; NaN where warmth is not counted. [degC]
        longest_hours: Most hours that are believed, whatever the temperature. [h]
        minutes: planned, failure and heritage.
        look: Months between looks and what to look for; None for none.
    """

    key: str
    words: str
    parts: tuple[str, ...]
    laws: Mapping[str, Law]
    celsius: float
    halves_every: float
    longest_hours: float
    spread: float
    minutes: Mapping[str, float]
    look: tuple[int, str] | None
    source: str

    @property
    def by_chance(self) -> bool:
        """Whether it fails by chance at any age, in hours under power only."""
        return list(self.laws) == [HOURS] and self.laws[HOURS].shape == 1

    def at(self, celsius: float) -> Mapping[str, Law]:
        """Its laws at the temperature of the part. [degC]"""
        if math.isnan(self.celsius) or HOURS not in self.laws:
            return self.laws
        law = self.laws[HOURS]
        life = warmer_life(law.life, self.celsius, celsius, self.halves_every, self.longest_hours)
        return {**self.laws, HOURS: Law(life, law.shape)}


@dataclass(frozen=True)
class Use:
    """What an object does in a year, and how warm its parts are. [h, times, degC]"""

    hours: float
    switch_ons: float
    celsius: float


@dataclass(frozen=True)
class Age:
    """What a part has behind it. [h, times, years]"""

    hours: float = 0.0
    switch_ons: float = 0.0
    years: float = 0.0


@cache
def wear_kinds() -> Mapping[str, WearKind]:
    """Every kind of wear, by key."""
    return {key: _kind(key, row) for key, row in table("planning/wear").items()}


def wear_of_part(part_kind: str) -> str:
    """The kind of wear of a part kind; '' where none is known."""
    return next((kind.key for kind in wear_kinds().values() if part_kind in kind.parts), "")


def in_use(kind: WearKind, use: Use, age: Age) -> Wearing:
    """
    A part in its use.

    >>> lamp = in_use(wear_kinds()["lamp"], Use(1500.0, 300.0, 40.0), Age())
    >>> round(float(lamp.survival(2.0)), 3)  # 3000 h, its characteristic life: 1/e live on
    0.368
    """
    rates = {HOURS: use.hours, SWITCH_ONS: use.switch_ons, YEARS: 1.0}
    ages = {HOURS: age.hours, SWITCH_ONS: age.switch_ons, YEARS: age.years}
    return Wearing(tuple((law, rates[clock], ages[clock]) for clock, law in kind.at(use.celsius).items()))


def life_factors(spread: float) -> tuple[Floats, Floats]:
    """
    Factors on a life that is known to within a factor, two times in three, and their weights: a lognormal one.

    >>> factors, weights = life_factors(2.0)
    >>> round(float(weights.sum()), 9), bool(factors.min() < 0.25), bool(factors.max() > 4)
    (1.0, True, True)
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES)
    factors: Floats = spread**nodes
    return factors, weights / weights.sum()


def _kind(key: str, row: Mapping[str, Any]) -> WearKind:
    look = row.get("look")
    return WearKind(
        key, row["words"], tuple(row["parts"]), {clock: _law(row[clock]) for clock in CLOCKS if clock in row},
        float(row.get("celsius", math.nan)), float(row.get("halves_every", math.nan)),
        float(row.get("longest_hours", math.inf)), float(row["spread"]),
        {name: float(row[name]) for name in ("planned", "failure", "heritage")},
        (int(look["months"]), look["words"]) if look else None, row["source"],
    )  # fmt: skip


def _law(row: Mapping[str, float]) -> Law:
    return Law.from_tenth(row["tenth"], row["shape"]) if "tenth" in row else Law(row["life"], row["shape"])
