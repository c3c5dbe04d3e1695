"""
Forecast what parts a network of collections will need: how many of each kind, and what keeping them together saves.

Each future draws the odds of every kind and age from what the counts leave open, once for the whole network: if a kind
fails more often than the handbook has it, it does so everywhere, and such shortages do not average out. Then each
object comes in not working so and so often (Poisson), and each of its parts is faulty with those odds (binomial).
A part renewed does not get better odds here, and nobody grows older within the forecast.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kilter.diagnose.learned_odds import Weighted, by_kind, learned

Ints = NDArray[np.int64]
ODDS, VISITS, FAULTY = 1, 2, 3
"""What a seed is for; so no draw depends on the order of others, or on who makes it."""


@dataclass(frozen=True)
class Holding:
    """
    Objects of one kind in one collection.

    Args:
        parts: How many parts of each kind one such object has.
        count: How many such objects.
        band: Their age, as the learned odds have it; '' where it is not known.
        arrivals: How often one of them comes in not working. [1/a]
    """

    parts: Mapping[str, int]
    count: int
    band: str
    arrivals: float


@dataclass(frozen=True)
class Member:
    """A collection of the network."""

    name: str
    holdings: tuple[Holding, ...]


@dataclass(frozen=True)
class Need:
    """
    Pieces of one kind that are needed.

    Args:
        kind: Key of the part kind.
        mean: Over all futures.
        enough: Pieces that are enough in the wanted share of futures, kept together by the network.
        apart: The same kept by each collection for itself, added up.
    """

    kind: str
    mean: float
    enough: int
    apart: int


def shapes(members: Sequence[Member], counts: Sequence[Weighted]) -> list[list[Any]]:
    """Kind, age band and the two beta parameters of everything in the network, in order."""
    keys = sorted({(kind, one.band) for member in members for one in member.holdings for kind in one.parts})
    own = by_kind(counts)
    return [[kind, band, *learned(kind, own.get(kind, ()), band).shape] for kind, band in keys]


def plain_member(number: int, member: Member) -> dict[str, Any]:
    """A member as plain data, with its number in the network."""
    rows = [[dict(sorted(one.parts.items())), one.count, one.band, one.arrivals] for one in member.holdings]
    return {"number": number, "name": member.name, "holdings": rows}


def futures(shared: Mapping[str, Any], members: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """
    The futures of some members.

    Args:
        shared: `shapes`, `years`, `scenarios`, `enough` and `seed`.
        members: As plain data.

    Returns:
        `members`: of each its `name` and `needs` by kind, [mean, enough]; `together`: by kind, what all of them need in
        each future.
    """
    size, seed = int(shared["scenarios"]), int(shared["seed"])
    odds = {
        (kind, band): np.random.default_rng([seed, ODDS, number]).beta(hits, misses, size)
        for number, (kind, band, hits, misses) in enumerate(shared["shapes"])
    }
    place = {key: number for number, key in enumerate(odds)}
    together: dict[str, Ints] = {}
    told = []
    for member in members:
        needs: dict[str, Ints] = {}
        for row, (parts, count, band, arrivals) in enumerate(member["holdings"]):
            key = [seed, VISITS, member["number"], row]
            visits = np.random.default_rng(key).poisson(count * arrivals * shared["years"], size)
            for kind, each in parts.items():
                random = np.random.default_rng([seed, FAULTY, member["number"], row, place[kind, band]])
                faulty = random.binomial(visits * each, odds[kind, band]).astype(np.int64)
                needs[kind] = needs[kind] + faulty if kind in needs else faulty
        for kind, needed in needs.items():
            together[kind] = together[kind] + needed if kind in together else needed
        rows = {kind: [float(one.mean()), enough(one, shared["enough"])] for kind, one in sorted(needs.items())}
        told.append({"name": member["name"], "needs": rows})
    return {"members": told, "together": {kind: one.tolist() for kind, one in sorted(together.items())}}


def enough(needed: Ints, share: float) -> int:
    """
    The smallest number that is enough in that share of futures.

    >>> enough(np.array([0, 3, 1, 2]), 0.75)
    2
    """
    return int(np.sort(needed)[max(ceil(share * len(needed) - 1e-9) - 1, 0)])


def needs_of(results: Sequence[Mapping[str, Any]], share: float) -> tuple[Need, ...]:
    """What the network needs, most first, from the futures of all its members."""
    sums: dict[str, Ints] = {}
    apart: dict[str, int] = {}
    for one in results:
        for kind, values in one["together"].items():
            sums[kind] = sums.get(kind, np.zeros(len(values), np.int64)) + np.array(values, np.int64)
        for member in one["members"]:
            for kind, (_, own) in member["needs"].items():
                apart[kind] = apart.get(kind, 0) + own
    found = [Need(kind, float(every.mean()), enough(every, share), apart[kind]) for kind, every in sums.items()]
    return tuple(sorted(found, key=lambda one: (-one.mean, one.kind)))
