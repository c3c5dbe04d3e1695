"""
What swapping parts between machines brings, against closed forms.

N machines of n parts, each part good with its own chance. Without swapping, N times the product of the chances work;
with free swapping, as many as the part of which fewest are good: the sum over k = 1 ... N of the product of P(at least
k good). The theory is that of the papers on systems whose parts are interchanged (Hirsch, Meisner and Boll; from
memory). The figures 2.048 to 3.0668, 4.3047 to 7.5329 and 1.35 to 1.45125 were worked out from these formulas outside
the planner.
"""

from __future__ import annotations

from itertools import combinations_with_replacement, product
from math import comb, factorial, prod

import pytest

from kilter.planning.accession import Permission
from kilter.planning.allocation.plan import allocate
from kilter.planning.allocation.problem import Donor, Finding, Lot, Problem, Wanting

YES = Permission(True, "for the test")


def at_least(k: int, machines: int, chance: float) -> float:
    return sum(comb(machines, j) * chance**j * (1 - chance) ** (machines - j) for j in range(k, machines + 1))


def with_swapping(machines: int, chances: tuple[float, ...]) -> float:
    return sum(prod(at_least(k, machines, one) for one in chances) for k in range(1, machines + 1))


@pytest.mark.parametrize(
    ("machines", "chances", "alone", "swapped"),
    [(5, (0.8,) * 4, 2.048, 3.0668), (10, (0.9,) * 8, 4.3047, 7.5329), (3, (0.5, 0.9), 1.35, 1.45125)],
)
def test_the_formulas_give_the_figures(machines: int, chances: tuple[float, ...], alone: float, swapped: float) -> None:
    assert machines * prod(chances) == pytest.approx(alone, abs=5e-5)
    assert with_swapping(machines, chances) == pytest.approx(swapped, abs=5e-5)


def planned(patterns: tuple[tuple[bool, ...], ...]) -> int:
    """How many machines the planner makes to work; every machine may be taken apart for what is good in it."""
    objects, donors = [], []
    for number, good in enumerate(patterns):
        name = f"HC {number}"
        needs = {f"part {k}": 1 for k, fine in enumerate(good) if not fine}
        lots = tuple(Lot(f"{name}/{k}", f"part {k}", 1, 1.0) for k, fine in enumerate(good) if fine)
        objects.append(Wanting(name, 1.0, (Finding(1.0, needs),)))
        donors.append(Donor(name, lots, 0.0, YES))
    return len(allocate(Problem(tuple(objects), donors=tuple(donors), grades=(1.0,)), gap=0.0).made)


def test_the_planner_over_every_pattern_of_three_machines() -> None:
    """All 64 patterns of good and bad parts of three machines of two parts: 1.45125 on average."""
    chances, total = (0.5, 0.9), 0.0
    for pattern in product(product((False, True), repeat=2), repeat=3):
        chance = prod(p if fine else 1 - p for one in pattern for p, fine in zip(chances, one, strict=True))
        total += chance * planned(pattern)
    assert total == pytest.approx(1.45125, abs=1e-9)


def test_the_planner_over_every_count_of_five_machines() -> None:
    """Five machines of four alike parts: the counts of good ones matter, 126 cases up to order; 3.0668 on average."""
    machines, sorts, chance, total = 5, 4, 0.8, 0.0
    share = [comb(machines, k) * chance**k * (1 - chance) ** (machines - k) for k in range(machines + 1)]
    for counts in combinations_with_replacement(range(machines + 1), sorts):
        orders = factorial(sorts) / prod(factorial(counts.count(k)) for k in set(counts))
        patterns = tuple(tuple(number < counts[k] for k in range(sorts)) for number in range(machines))
        total += orders * prod(share[k] for k in counts) * planned(patterns)
    assert total == pytest.approx(with_swapping(machines, (chance,) * sorts), abs=1e-9)
    assert total == pytest.approx(3.0668, abs=5e-5)
