"""Solve the programme: the best plan with its gap, ties broken in a fixed order."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from kilter.measure.errors import OutOfRange
from kilter.planning.allocation.model import Floats, Model
from kilter.planning.allocation.relaxed import relax
from kilter.planning.allocation.solver import aside, optimiser
from kilter.planning.numbers import number

HALF = 0.5
WIDER = (1, 4)
"""Times the nearness of ways that are kept, until the gap is reached."""
SAME = 1e-7
"""Share of its worth by which a plan may differ from the best and still count as equally good; above the solver's own
tolerance."""


@dataclass(frozen=True)
class Solution:
    """
    The unknowns of a plan.

    Args:
        values: Shape (V,), whole.
        worth: Of the plan.
        bound: No plan is worth more.
    """

    values: Floats
    worth: float
    bound: float

    @property
    def gap(self) -> float:
        """Share of the bound by which the plan may fall short of the best."""
        return max(0.0, self.bound - self.worth) / self.bound if self.bound > 0 else 0.0


def solve(
    model: Model, *, gap: float, seconds: float, fixed: dict[int, float] | None = None, serve: int | None = None
) -> Solution:
    """
    The best plan.

    Args:
        model: From `kilter.planning.allocation.model.build`.
        gap: Stop when the plan is proved to be that near the best, as a share.
        seconds: Stop after that time with what there is.
        fixed: Unknowns that are held at a value.
        serve: Place of an object that has to be served; plans of equal worth are then not told apart.

    Raises:
        OutOfRange: No plan was found in that time, or there is none.
    """
    if not len(model.gain):
        return Solution(np.zeros(0), 0.0, 0.0)
    low, high = np.zeros_like(model.most), model.most.copy()
    for unknown, value in (fixed or {}).items():
        low[unknown] = high[unknown] = value
    if serve is None:
        raw, bound = _best(model, low, high, gap, seconds)
    else:
        served = np.zeros_like(model.gain)
        served[: model.starts[0]] = [one.place == serve for one in model.columns]
        raw, least = _milp(model, -model.gain, low, high, gap, seconds, (served, 1.0))
        bound = -least
    values = _whole_flows(model, raw)
    worth = float(model.gain @ values)
    if model.beyond is not None and serve is None and not fixed:
        bound = model.beyond
    bound = max(bound, worth)
    few = serve is None and not fixed and len(model.objects) <= number("allocation", "exact_objects")
    if few and bound - worth <= SAME * max(1.0, abs(worth)):
        values = _told_apart(model, values, worth, low, high, seconds)
    return Solution(values, float(model.gain @ values), bound)


def _best(model: Model, low: Floats, high: Floats, gap: float, seconds: float) -> tuple[Floats, float]:
    """A plan and a bound: with few unknowns at once, with many among the ways that come near the relaxed programme."""
    if len(model.gain) >= number("allocation", "relax_from"):
        began = time.monotonic()
        known = model.relaxed is not None and bool((low <= 0).all() and (high >= model.most).all())
        relaxed = model.relaxed if known else relax(model, low, high, seconds)
        if relaxed is not None:
            near = number("allocation", "near") * max(one.worth for one in model.objects)
            for widen in WIDER:
                left = seconds - (time.monotonic() - began)
                keep = (relaxed.short < near * widen) | (model.whole == 0) | (low > 0)
                values, _ = _milp(model, -model.gain, low, np.where(keep, high, 0.0), 0.5 * gap, max(left, 1.0))
                worth = float(model.gain @ values)
                if relaxed.worth - worth <= gap * relaxed.worth or left <= 0:
                    return values, relaxed.worth
            seconds = max(1.0, seconds - (time.monotonic() - began))
    values, least = _milp(model, -model.gain, low, high, gap, seconds)
    return values, -least


def _milp(
    model: Model,
    cost: Floats,
    low: Floats,
    high: Floats,
    gap: float,
    seconds: float,
    row: tuple[Floats, float] | None = None,
) -> tuple[Floats, float]:
    """The least cost found, and a bound of it; unknowns that cannot be above nothing are left out."""
    tools, keep = optimiser(), high > 0
    if not keep.any():
        return np.zeros_like(cost), 0.0
    limits = [tools.LinearConstraint(model.rows[:, keep], -np.inf, model.limit)]
    if row is not None:
        limits.append(tools.LinearConstraint(row[0][None, keep], row[1], np.inf))
    with aside():
        found = tools.milp(
            cost[keep], integrality=model.whole[keep], bounds=tools.Bounds(low[keep], high[keep]), constraints=limits,
            options={"mip_rel_gap": gap, "time_limit": seconds},
        )  # fmt: skip
    if found.x is None:
        raise OutOfRange("Cannot share out the parts", f"no plan within {seconds:g} s ({found.message})",
                         "more time, or fewer objects", "Allow more seconds.")  # fmt: skip
    values = np.zeros_like(cost)
    values[keep] = found.x
    return values, float(found.mip_dual_bound)


def _whole_flows(model: Model, values: Floats) -> Floats:
    """The same plan with whole pieces: a corner of the transport problem that is left once z, d and b are given."""
    whole = np.where(model.whole > 0, np.round(values), values)
    start = model.starts[2]
    flows = whole[start:]
    if not len(flows) or np.abs(flows - np.round(flows)).max() < SAME:
        whole[start:] = np.round(flows)
        return whole
    rest = model.limit - model.rows[:, :start] @ whole[:start]
    found = optimiser().linprog(-model.gain[start:], A_ub=model.rows[:, start:], b_ub=rest, method="highs-ds")
    assert found.x is not None
    whole[start:] = np.round(found.x)
    return whole


def _told_apart(model: Model, values: Floats, worth: float, low: Floats, high: Floats, seconds: float) -> Floats:
    """Among plans of the same worth: fewest donors broken, then those that wait longest, then lowest numbers."""
    waiting = sorted(range(len(model.objects)), key=lambda i: (model.objects[i].since or "9", model.objects[i].number))
    rank = {place: at for at, place in enumerate(waiting)}
    cost, (d, b, f) = np.zeros_like(model.gain), model.starts
    cost[:d] = [-1.0 / (2.0 + rank[one.place]) for one in model.columns]
    cost[d:b] = [1.0 + 2.0 * len(model.objects) + at / (1.0 + len(model.donors)) for at in range(b - d)]
    cost[f:] = [1e-6 * at / (1.0 + len(model.flows)) for at in range(len(model.flows))]
    slack = 0.1 * SAME * max(1.0, abs(worth))
    try:
        raw, _ = _milp(model, cost, low, high, 0.0, seconds, (model.gain, worth - slack))
    except OutOfRange:
        return values
    other = _whole_flows(model, raw)
    feasible = bool((model.rows @ other <= model.limit + HALF).all())
    return other if feasible and float(model.gain @ other) >= worth - SAME * max(1.0, abs(worth)) else values
