"""
Decide on donors and purchases before the diagnoses are settled, and on who gets what after.

A world is one way in which everything may turn out: one finding for each object, or something that no part cures. Which
donors are taken apart and what is bought is the same in all worlds, because it is decided before; the sharing out is
its own in each. The programme of all worlds at once has the donors and purchases in common (a two-stage stochastic
programme, by sample average where the worlds are drawn).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import prod

import numpy as np

from kilter.measure.errors import OutOfRange
from kilter.planning.allocation.model import Floats, Model, build
from kilter.planning.allocation.problem import Donor, Finding, Offer, Problem, Wanting
from kilter.planning.allocation.solve import HALF, solve
from kilter.planning.allocation.solver import aside, optimiser, sparse

MOST_WORLDS = 1000


@dataclass(frozen=True)
class World:
    """One way in which the diagnoses may turn out, with its chance."""

    chance: float
    objects: tuple[Wanting, ...]


@dataclass(frozen=True)
class FirstStage:
    """
    What is decided before the diagnoses are settled.

    Args:
        broken: Donors to be taken apart.
        bought: Offers and how many of each.
        worth: Expected worth, if who gets what is decided after the diagnoses.
        bound: No other decision on donors and purchases is worth more over these worlds.
        spread: Standard error of the worth from drawing the worlds; 0 where all were looked at.
    """

    broken: tuple[Donor, ...]
    bought: tuple[tuple[Offer, int], ...]
    worth: float
    bound: float
    spread: float


def world_count(problem: Problem) -> int:
    """How many worlds there are."""
    return prod(len(_outcomes(one)) for one in problem.objects)


def every_world(problem: Problem) -> tuple[World, ...]:
    """
    All worlds with their chances.

    Raises:
        OutOfRange: There are too many.
    """
    told = [_outcomes(one) for one in problem.objects]
    if world_count(problem) > MOST_WORLDS:
        raise OutOfRange("Cannot look at every way the diagnoses may turn out", f"more than {MOST_WORLDS} ways",
                         f"up to {MOST_WORLDS}", "Draw some of them instead.")  # fmt: skip
    worlds = []
    for chosen in product(*told):
        chance = prod(one[0] for one in chosen)
        if chance > 0:
            worlds.append(World(chance, tuple(one[1] for one in chosen)))
    return tuple(worlds)


def draw_worlds(problem: Problem, count: int, seed: int) -> tuple[World, ...]:
    """
    Worlds drawn at random, all of the same chance.

    Args:
        problem: With the findings of every object.
        count: How many.
        seed: Of the draw; the same seed gives the same worlds.

    Raises:
        OutOfRange: No worlds, or too many.
    """
    if not 1 <= count <= MOST_WORLDS:
        raise OutOfRange("Cannot draw ways the diagnoses may turn out", f"{count} of them", f"1 to {MOST_WORLDS}",
                         "Choose such a number.")  # fmt: skip
    draw = np.random.default_rng(seed)
    objects = sorted(problem.objects, key=lambda one: one.number)
    told = [_outcomes(one) for one in objects]
    chances = [np.array([chance for chance, _ in one]) for one in told]
    drawn = [draw.choice(len(one), size=count, p=p / p.sum()) for one, p in zip(told, chances, strict=True)]
    return tuple(
        World(1.0 / count, tuple(one[at[w]][1] for one, at in zip(told, drawn, strict=True))) for w in range(count)
    )


def decide_first(problem: Problem, worlds: Sequence[World], *, gap: float, seconds: float) -> FirstStage:
    """
    The best donors and purchases over these worlds.

    Args:
        problem: What there is to share out.
        worlds: Ways in which the diagnoses may turn out.
        gap: Stop when it is proved to be that near the best, as a share.
        seconds: Stop after that time.

    Raises:
        OutOfRange: No decision in that time.
    """
    models = [build(replace(problem, objects=one.objects)) for one in worlds]
    first = models[0]
    shared = len(first.donors) + len(first.offers)
    cost, rows, most, whole = _stacked(models, [one.chance for one in worlds], shared)
    if not len(cost):
        return FirstStage((), (), 0.0, 0.0, 0.0)
    tools = optimiser()
    with aside():
        found = tools.milp(
            cost, integrality=whole, bounds=tools.Bounds(np.zeros_like(most), most),
            constraints=tools.LinearConstraint(rows, -np.inf, np.concatenate([one.limit for one in models])),
            options={"mip_rel_gap": gap, "time_limit": seconds},
        )  # fmt: skip
    if found.x is None:
        raise OutOfRange("Cannot decide on donors before the diagnoses", f"no decision within {seconds:g} s",
                         "more time, fewer objects or fewer worlds", "Allow more seconds.")  # fmt: skip
    values = np.round(found.x[:shared])
    broken = tuple(one for one, yes in zip(first.donors, values > HALF, strict=False) if yes)
    counts = values[len(first.donors) :]
    bought = tuple((one, int(n)) for one, n in zip(first.offers, counts, strict=True) if n > HALF)
    worth, spread = _worth(models, [one.chance for one in worlds], values, gap, seconds)
    return FirstStage(broken, bought, worth, max(worth, -float(found.mip_dual_bound)), spread)


def worth_of(
    problem: Problem, worlds: Sequence[World], broken: Sequence[str], bought: Sequence[tuple[str, int]], *, gap: float,
    seconds: float,
) -> tuple[float, float]:  # fmt: skip
    """
    Expected worth of some donors and purchases over these worlds, and its standard error.

    Args:
        problem: What there is to share out.
        worlds: Ways in which the diagnoses may turn out.
        broken: Numbers of the donors.
        bought: Keys of the offers and counts.
        gap: For each world.
        seconds: For each world.
    """
    models = [build(replace(problem, objects=one.objects)) for one in worlds]
    counts = dict(bought)
    values = np.array(
        [float(one.number in broken) for one in models[0].donors]
        + [float(counts.get(one.key, 0)) for one in models[0].offers]
    )
    return _worth(models, [one.chance for one in worlds], values, gap, seconds)


def _outcomes(one: Wanting) -> list[tuple[float, Wanting]]:
    """Each finding as if it were certain, and the object without any where none of them is true."""
    told = [(f.chance, replace(one, findings=(Finding(1.0, f.needs, f.words),))) for f in one.findings if f.chance > 0]
    rest = 1.0 - sum(chance for chance, _ in told)
    return told + ([(rest, replace(one, findings=()))] if rest > 1e-9 or not told else [])


def _stacked(models: Sequence[Model], chances: Sequence[float], shared: int) -> tuple[Floats, object, Floats, Floats]:
    """Cost, rows, largest values and wholeness of all worlds: what they share first, then each world's own."""
    gain, most, whole = (np.zeros(shared) for _ in range(3))
    blocks, own = [], []
    for model, chance in zip(models, chances, strict=True):
        d, f = model.starts[0], model.starts[2]
        mine = np.r_[0:d, f : len(model.gain)]
        gain += chance * model.gain[d:f]
        most, whole = model.most[d:f], model.whole[d:f]
        blocks.append((model.rows[:, d:f], model.rows[:, mine]))
        own.append((chance * model.gain[mine], model.most[mine], model.whole[mine]))
    tools = sparse()
    left = tools.vstack([one for one, _ in blocks])
    right = tools.block_diag([one for _, one in blocks])
    joined = [np.concatenate([head, *(one[k] for one in own)]) for k, head in enumerate((gain, most, whole))]
    return -joined[0], tools.csr_array(tools.hstack([left, right])), joined[1], joined[2]


def _worth(
    models: Sequence[Model], chances: Sequence[float], values: Floats, gap: float, seconds: float
) -> tuple[float, float]:
    worths = []
    for model in models:
        fixed = {model.starts[0] + at: float(value) for at, value in enumerate(values)}
        worths.append(solve(model, gap=gap, seconds=seconds, fixed=fixed).worth)
    mean = float(np.dot(chances, worths))
    equal = len(set(chances)) == 1 and len(worths) > 1
    spread = float(np.std(worths, ddof=1) / np.sqrt(len(worths))) if equal else 0.0
    return mean, spread
