"""Ways that are too many to be columns each: the best of them against all of them, and the bound against every plan."""

from __future__ import annotations

from itertools import combinations_with_replacement, product

import numpy as np
import pytest
from random_collections import best_worth, small

from kilter.planning.allocation import model as model_module
from kilter.planning.allocation.best_way import best_way
from kilter.planning.allocation.columns import OpenWays, column
from kilter.planning.allocation.plan import allocate
from kilter.planning.allocation.problem import Finding
from kilter.planning.numbers import number


@pytest.mark.parametrize("seed", range(60))
def test_best_way_at_random_prices(seed: int) -> None:
    """Against every way, one by one."""
    draw = np.random.default_rng(seed)
    steps = (0.95, 0.8, 0.6, 0.3)
    parts = {f"P{k}": int(draw.integers(1, 4)) for k in range(int(draw.integers(1, 4)))}
    findings = [Finding(0.7, parts)]
    if seed % 2:
        findings.append(Finding(0.2, {part: int(draw.integers(0, n + 1)) for part, n in parts.items()}))
    found = {
        part: tuple(sorted(draw.choice(4, size=int(draw.integers(1, 5)), replace=False).tolist())) for part in parts
    }
    prices = {(part, at): float(draw.uniform(0, 2)) for part in parts for at in range(4)}
    ways = OpenWays(3, parts, tuple(findings), found)
    value, way = best_way(ways, 10.0, steps, prices)
    best = -np.inf
    for chosen in product(*(combinations_with_replacement(found[part], n) for part, n in parts.items())):
        one = column(3, dict(zip(parts, chosen, strict=True)), findings, steps)
        if one.chance >= number("allocation", "least_chance"):
            best = max(best, 10.0 * one.chance - sum(n * prices[want] for want, n in one.use.items()))
    if way is None:
        assert best == -np.inf
    else:
        assert value == pytest.approx(best)
        assert value == pytest.approx(10.0 * way.chance - sum(n * prices[want] for want, n in way.use.items()))


@pytest.mark.parametrize("seed", range(200, 260))
def test_the_bound_counts_ways_that_were_left_open(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With hardly any way looked at by itself: no plan of all beats the bound, and the plan is one of them."""
    few = {"most_columns": 1.0, "columns_in_all": 0.0}
    monkeypatch.setattr(model_module, "number", lambda name, key: few[key] if key in few else number(name, key))
    problem = small(seed)
    plan, best = allocate(problem, gap=0.0), best_worth(problem)
    assert plan.exact
    assert plan.worth <= best + 1e-6
    assert plan.bound >= best - 1e-6
    assert plan.worth >= 0.8 * best - 1e-6
