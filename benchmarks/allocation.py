"""
Plans for made-up collections of the size of a large one.

    python benchmarks/allocation.py [--small]

'shelf': 1,000 objects that want 1 + Poisson(1.8) parts of 400 sorts, 5,000 pieces on the shelf in three conditions, and
for every tenth sort another one that may stand in for it. 'donors': 10,000 objects of which every third may also be
taken apart, 2,000 sorts, and a shelf that falls short of the wants. 'findings': 1,000 objects of which nobody is sure
what is wrong: two findings each. Printed: size of the programme, seconds to prepare and to solve it, the worth of the
plan, and the gap: the share by which it can at most fall short of the best plan. The bound behind the gap is the
solver's; 'checked' says that no piece was used twice and that the pieces are worth what the plan says.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from kilter.planning.accession import Permission
from kilter.planning.allocation.plan import Plan, plan_of
from kilter.planning.allocation.prepare import prepare
from kilter.planning.allocation.problem import Donor, Finding, Lot, Problem, StandIn, Wanting
from kilter.planning.allocation.solve import solve

SEED = 2026
GOODS = (0.97, 0.85, 0.6)
YES = Permission(True, "made up")


def collection(objects: int, sorts: int, pieces: int, *, donors: bool, findings: int, seed: int = SEED) -> Problem:
    """A made-up collection."""
    draw = np.random.default_rng(seed)
    popular = draw.dirichlet(np.full(sorts, 0.5))

    def bundle() -> dict[str, int]:
        chosen, counts = np.unique(draw.choice(sorts, size=1 + draw.poisson(1.8), p=popular), return_counts=True)
        return {f"T{sort:04d}": int(n) for sort, n in zip(chosen, counts, strict=True)}

    wanting = []
    for k in range(objects):
        chances = draw.dirichlet(np.ones(findings)) * (0.9 if findings > 1 else 1.0)
        told = tuple(Finding(float(chance), bundle()) for chance in chances)
        wanting.append(Wanting(f"HC {k:05d}", float(draw.integers(1, 21)), told, f"{draw.integers(1990, 2024)}-01-01"))
    lots = []
    for good, share in zip(GOODS, (0.3, 0.4, 0.3), strict=True):
        counts = draw.multinomial(round(pieces * share), popular)
        lots += [Lot(f"{sort}/{good}", f"T{sort:04d}", int(n), good) for sort, n in enumerate(counts) if n]
    stands = tuple(StandIn(f"T{sort:04d}", f"T{sort + 1:04d}", "fit") for sort in range(0, sorts - 1, 10))
    apart = tuple(_donor(draw, one, sorts) for one in wanting[::3]) if donors else ()
    return Problem(tuple(wanting), tuple(lots), apart, (), stands)


def _donor(draw: np.random.Generator, one: Wanting, sorts: int) -> Donor:
    given = [
        Lot(f"{one.number}/{k}", f"T{sort:04d}", 1, float(draw.choice(GOODS)))
        for k, sort in enumerate(draw.choice(sorts, size=6))
    ]
    return Donor(one.number, tuple(given), 0.5 + 0.2 * one.worth, YES)


def checked(problem: Problem, plan: Plan) -> bool:
    """Whether no piece is used twice, and what works is worth what the plan counts on or more."""
    there = {(lot.key, lot.part): lot.count for lot in problem.lots}
    for donor in plan.broken:
        for lot in donor.lots:
            there[donor.number, lot.part] = there.get((donor.number, lot.part), 0) + lot.count
    for made in plan.made:
        for piece in made.pieces:
            there[piece.origin, piece.part] = there.get((piece.origin, piece.part), 0) - 1
    works = sum(one.wanting.worth * one.likely for one in plan.made) - sum(one.loss for one in plan.broken)
    both = {one.wanting.number for one in plan.made} & {one.number for one in plan.broken}
    return min(there.values(), default=0) >= 0 and works >= plan.worth and not both


def once(name: str, problem: Problem, gap: float) -> None:
    """Prints one line."""
    began = time.perf_counter()
    model = prepare(problem, gap=gap, seconds=300)
    built = time.perf_counter()
    solution = solve(model, gap=gap, seconds=300)
    solved = time.perf_counter()
    plan = plan_of(problem, model, solution)
    rows, columns = model.rows.shape
    print(
        f"{name:<9} {len(problem.objects):>6} objects {sum(lot.count for lot in problem.lots):>6} pieces "
        f"{len(model.donors):>5} donors: {columns} unknowns, {rows} rows, {model.rows.nnz} entries; "
        f"prepared {built - began:.1f} s, solved {solved - built:.1f} s to {100 * gap:g} %; "
        f"made {len(plan.made)}, broken {len(plan.broken)}, worth {plan.worth:.1f}, gap {100 * plan.gap:.4f} %, "
        f"bound counts every way: {'yes' if plan.exact else 'no'}, "
        f"checked: {'yes' if checked(problem, plan) else 'NO'}",
        flush=True,
    )


def main() -> None:
    """Runs the three."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--small", action="store_true", help="a tenth of the size")
    by = 10 if asked.parse_args().small else 1
    once("shelf", collection(1000 // by, 400 // by, 5000 // by, donors=False, findings=1), 0.001)
    once("tight", collection(1000 // by, 400 // by, 1500 // by, donors=False, findings=1), 0.001)
    once("findings", collection(1000 // by, 400 // by, 2500 // by, donors=False, findings=2), 0.001)
    once("donors", collection(10000 // by, 2000 // by, 15000 // by, donors=True, findings=1), 0.01)


if __name__ == "__main__":
    main()
