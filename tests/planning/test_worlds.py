"""Donors and purchases decided before the diagnoses: against every decision over every world."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest
from random_collections import YES, best_worth, small

from kilter.measure.errors import OutOfRange
from kilter.planning.allocation.plan import allocate
from kilter.planning.allocation.problem import Donor, Finding, Lot, Problem, Wanting
from kilter.planning.allocation.worlds import decide_first, draw_worlds, every_world, worth_of


def by_hand(problem: Problem) -> float:
    """Every set of donors and purchases; for each the best sharing out in every world, by brute force."""
    best = float("-inf")
    sets = [c for size in range(len(problem.donors) + 1) for c in combinations(problem.donors, size)]
    for broken, counts in product(sets, product(*(range(o.most + 1) for o in problem.offers))):
        cost = sum(d.loss for d in broken) + sum(o.cost * n for o, n in zip(problem.offers, counts, strict=True))
        lots = [*problem.lots, *(replace(lot, key=f"{d.number} {lot.key}") for d in broken for lot in d.lots)]
        lots += [Lot(f"bought {o.key}", o.part, n, o.good) for o, n in zip(problem.offers, counts, strict=True)]
        away = {d.number for d in broken}
        worth = sum(
            world.chance
            * best_worth(replace(problem, objects=tuple(o for o in world.objects if o.number not in away),
                                 lots=tuple(lots), donors=(), offers=()))
            for world in every_world(problem)
        )  # fmt: skip
        best = max(best, worth - cost)
    return best


@pytest.mark.parametrize("seed", range(300, 330))
def test_no_decision_is_worth_more(seed: int) -> None:
    problem = small(seed)
    found = decide_first(problem, every_world(problem), gap=0.0, seconds=60)
    assert found.worth == pytest.approx(by_hand(problem), abs=1e-5)
    assert found.bound == pytest.approx(found.worth, abs=1e-5)


@pytest.mark.parametrize("seed", range(300, 330))
def test_deciding_after_the_diagnosis_is_never_worse(seed: int) -> None:
    """What is set aside now could be set aside after, too."""
    problem = small(seed)
    plan = allocate(problem, gap=0.0)
    worlds = every_world(problem)
    now = worth_of(problem, worlds, [one.number for one in plan.broken], [(o.key, n) for o, n in plan.bought],
                   gap=0.0, seconds=60)  # fmt: skip
    found = decide_first(problem, worlds, gap=0.0, seconds=60)
    assert plan.worth - 1e-6 <= now[0] <= found.worth + 1e-6


def test_waiting_saves_a_part() -> None:
    """
    A (worth 10) wants a ram with 0.5, B (worth 8) with 0.5, one ram, else no part: 18 less half the time both want it.

    Both without a part 0.25 x 18; only A or only B wants it 0.5 x 18; both want it 0.25 x 10. Sum 16, less the piece's
    own loss of 0.001 in three worlds of four.
    """
    objects = tuple(Wanting(name, worth, (Finding(0.5, {"ram": 1}), Finding(0.5, {})))
                    for name, worth in (("A", 10.0), ("B", 8.0)))  # fmt: skip
    problem = Problem(objects, (Lot("1", "ram", 1, 1.0),), grades=(1.0,))
    found = decide_first(problem, every_world(problem), gap=0.0, seconds=60)
    assert found.worth == pytest.approx(16 - 0.75 * 0.001, abs=1e-6)


def test_drawn_worlds_come_near_and_repeat() -> None:
    """Mean of 400 drawn worlds within four of its standard errors of all worlds."""
    objects = tuple(Wanting(f"H{k}", 3.0 + k, (Finding(0.4, {"ram": 1}), Finding(0.3, {"pla": 1}))) for k in range(4))
    donors = (Donor("D", (Lot("x", "ram", 1, 1.0), Lot("y", "pla", 1, 1.0)), 1.0, YES),)
    problem = Problem(objects, (Lot("1", "ram", 1, 1.0),), donors, grades=(1.0,))
    exact = decide_first(problem, every_world(problem), gap=0.0, seconds=60)
    some = draw_worlds(problem, 400, seed=5)
    assert some == draw_worlds(problem, 400, seed=5)
    mean, spread = worth_of(problem, some, [one.number for one in exact.broken], [], gap=0.0, seconds=60)
    assert 0 < spread < 0.3
    assert abs(mean - exact.worth) < 4 * spread
    shares = np.mean([bool(world.objects[0].findings) for world in some])
    assert shares == pytest.approx(0.7, abs=0.1)


def test_too_many_worlds() -> None:
    problem = Problem(tuple(Wanting(f"H{k}", 1.0, (Finding(0.5, {"x": 1}),)) for k in range(12)))
    with pytest.raises(OutOfRange, match="more than 1000 ways"):
        every_world(problem)
    with pytest.raises(OutOfRange, match="0 of them"):
        draw_worlds(problem, 0, 1)
