"""
What one more piece of a part would be worth: what to buy, and what to ask other collections for.

The programme without whole numbers gives a price for every part at once. It is exact for a small share of a piece and
an estimate for a whole one, so for the parts that lead the list the plan is worked out again with one more piece.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kilter.planning.allocation.grades import grades_of
from kilter.planning.allocation.model import build
from kilter.planning.allocation.plan import Plan, allocate
from kilter.planning.allocation.problem import Lot, Problem
from kilter.planning.allocation.relaxed import relax
from kilter.planning.numbers import number

LEAST = 1e-6
"""Prices below are rounding."""
A_LITTLE = 1e-3
"""Pieces by which every limit is raised: where a price has a range, it is the one for more that is wanted."""
ONE_MORE = "one more"


@dataclass(frozen=True)
class Price:
    """
    Worth of one more good piece.

    Args:
        part: The part.
        price: From the programme without whole numbers.
        gain: By how much the best plan would grow; None where that was not worked out.
        serves: Objects that would then be made to work and are not now.
    """

    part: str
    price: float
    gain: float | None
    serves: tuple[str, ...] = ()


def prices(problem: Problem, plan: Plan, *, gap: float = 0.0, seconds: float | None = None) -> tuple[Price, ...]:
    """
    Parts of which one more would help, the dearest first.

    Args:
        problem: What there is to share out.
        plan: Its plan.
        gap: For the plans with one more piece.
        seconds: For the programme without whole numbers; None takes the setting.
    """
    limit = number("allocation", "seconds") if seconds is None else seconds
    model = build(problem, one_more=True)
    if not len(model.gain):
        return ()
    first, classes = model.supply
    limits = model.limit.copy()
    limits[first : first + len(classes)] += A_LITTLE
    relaxed = relax(replace(model, limit=limits), np.zeros_like(model.most), model.most, limit)
    if relaxed is None:
        return ()
    best: dict[str, float] = {}
    for at, (part, _) in enumerate(classes, first):
        best[part] = max(best.get(part, 0.0), float(relaxed.prices[at]))
    told = sorted(((-price, part) for part, price in best.items() if price > LEAST))
    worked_out = int(number("allocation", "explained")) if len(model.objects) <= _few() else 0
    found = [
        _one(problem, plan, part, -price, gap) if at < worked_out else Price(part, -price, None)
        for at, (price, part) in enumerate(told)
    ]
    return tuple(sorted(found, key=lambda one: (-(one.price if one.gain is None else one.gain), one.part)))


def _few() -> int:
    return int(number("allocation", "exact_objects"))


def _one(problem: Problem, plan: Plan, part: str, price: float, gap: float) -> Price:
    extra = Lot(ONE_MORE, part, 1, grades_of(problem)[0])
    richer = allocate(
        replace(problem, lots=(*problem.lots, extra)), gap=gap, seconds=number("allocation", "explained_seconds")
    )
    now = {one.wanting.number for one in plan.made}
    serves = tuple(one.wanting.number for one in richer.made if one.wanting.number not in now)
    return Price(part, price, max(0.0, richer.worth - plan.worth), serves)
