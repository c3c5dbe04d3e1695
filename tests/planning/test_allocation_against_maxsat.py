"""
The plan against a solver of another kind: weighted MaxSAT (RC2 of python-sat) on piece-by-piece assignment.

Fifty collections of 18 objects. The encoding shares nothing with the planner: one truth value for every want and every
piece that could fill it, every piece at most once, an object works if each of its wants is filled, and weights in
thousandths of worth. Chances are all 1 here, so that worth is a sum; chances are tried against all plans elsewhere.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from kilter.planning.accession import Permission
from kilter.planning.allocation.plan import allocate
from kilter.planning.allocation.problem import Donor, Finding, Lot, Offer, Problem, StandIn, Wanting
from kilter.planning.numbers import number, numbers

examples = pytest.importorskip("pysat.examples.rc2", reason="python-sat is not installed")
formula = pytest.importorskip("pysat.formula")

SORTS = [f"T{k}" for k in range(9)]
YES = Permission(True, "for the test")


def medium(seed: int) -> Problem:
    """Eighteen objects, a shelf that falls short, five donors of which two also want parts, two offers, stand-ins."""
    draw = np.random.default_rng([7, seed])
    objects = []
    for k in range(18):
        sorts, counts = np.unique(draw.choice(SORTS, size=1 + min(3, draw.poisson(1.2))), return_counts=True)
        needs = {str(s): int(n) for s, n in zip(sorts, counts, strict=True)}
        objects.append(Wanting(f"HC {k:02d}", float(draw.integers(1, 13)), (Finding(1.0, needs),)))
    lots = tuple(Lot(f"shelf {k}", str(s), 1, 1.0) for k, s in enumerate(draw.choice(SORTS, size=12)))
    donors = tuple(
        Donor(name, tuple(Lot(f"{name}/{k}", str(s), 1, 1.0) for k, s in enumerate(draw.choice(SORTS, size=3))),
              float(draw.integers(1, 6)), YES)
        for name in ("HC 00", "HC 01", "HC 90", "HC 91", "HC 92")
    )  # fmt: skip
    offers = tuple(Offer(f"offer {s}", str(s), 1, 1.0, 4.0) for s in draw.choice(SORTS, size=2, replace=False))
    return Problem(tuple(objects), lots, donors, offers, (StandIn("T0", "T1", "fit"),), {}, (1.0,))


def best_worth(problem: Problem) -> float:
    """Worth of the best plan, from MaxSAT."""
    clauses, last = formula.WCNF(), 0

    def new() -> int:
        nonlocal last
        last += 1
        return last

    gives = [(lot.part, 0) for lot in problem.lots]
    broken = {donor.number: new() for donor in problem.donors}
    for donor in problem.donors:
        clauses.append([-broken[donor.number]], weight=round(1000 * donor.loss))
        gives += [(lot.part, broken[donor.number]) for lot in donor.lots]
    for offer in problem.offers:
        bought = new()
        clauses.append([-bought], weight=round(1000 * offer.cost))
        gives.append((offer.part, bought))
    stands = {(one.wanted, one.part) for one in problem.stand_ins}
    piece, loss = number("allocation", "piece_loss"), numbers("allocation", "substitute_loss")["fit"]
    uses: list[list[int]] = [[] for _ in gives]
    for one in problem.objects:
        works = new()
        clauses.append([works], weight=round(1000 * one.worth))
        if one.number in broken:
            clauses.append([-works, -broken[one.number]])
        for part, n in one.findings[0].needs.items():
            for _ in range(n):
                fills = []
                for place, (given, switch) in enumerate(gives):
                    if given != part and (part, given) not in stands:
                        continue
                    filled = new()
                    fills.append(filled)
                    uses[place].append(filled)
                    clauses.append([-filled], weight=round(1000 * (piece + (0.0 if given == part else loss))))
                    if switch:
                        clauses.append([-filled, switch])
                clauses.append([-works, *fills])
    for some in uses:
        for one, other in combinations(some, 2):
            clauses.append([-one, -other])
    with examples.RC2Stratified(clauses) as solver:
        solver.compute()
        return sum(one.worth for one in problem.objects) - solver.cost / 1000


@pytest.mark.parametrize("first", range(0, 50, 10))
def test_another_solver_finds_nothing_better(first: int) -> None:
    for seed in range(first, first + 10):
        problem = medium(seed)
        plan = allocate(problem, gap=0.0)
        assert plan.worth == pytest.approx(best_worth(problem), abs=1e-5), seed


@pytest.mark.parametrize("seed", range(20))
def test_solving_in_two_stages_keeps_its_word(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The way of large collections, forced on a small one: the plan is within the gap that it states."""
    from kilter.planning.allocation import solve as module

    problem = medium(seed)
    best = allocate(problem, gap=0.0)
    monkeypatch.setattr(module, "number", lambda name, key: 1.0 if key == "relax_from" else number(name, key))
    for gap in (0.05, 0.0):
        plan = allocate(problem, gap=gap)
        assert plan.gap <= gap + 1e-6
        assert plan.worth <= best.worth + 1e-6 <= plan.bound + 2e-6
