"""
Make the programme ready: of the ways that are too many to be columns each, add those that the prices ask for.

At the prices of the programme without whole numbers every open way is worth something above its pieces and above the
price of serving its object, or nothing. What the best of each object is worth above, summed, is the most by which all
open ways together can raise the bound; so the bound of a plan counts them all, whether or not they became columns.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from kilter.planning.allocation.best_way import best_way
from kilter.planning.allocation.columns import Column
from kilter.planning.allocation.model import Model, build
from kilter.planning.allocation.problem import Problem
from kilter.planning.allocation.relaxed import Relaxed, relax
from kilter.planning.numbers import number

TINY = 1e-7


def prepare(problem: Problem, *, gap: float, seconds: float) -> Model:
    """
    The programme of a problem with the ways that matter.

    Args:
        problem: To be solved.
        gap: Share of the worth that open ways left out may still add to the bound, times two.
        seconds: Stop adding after half of that time.
    """
    began, more = time.monotonic(), list[Column]()
    model = build(problem)
    while model.open_ways:
        left = seconds - (time.monotonic() - began)
        relaxed = relax(model, np.zeros_like(model.most), model.most, left)
        asked = None if relaxed is None else _asked_for(model, relaxed)
        if relaxed is None or asked is None:
            return replace(model, relaxed=relaxed)
        above = sum(value for value, _ in asked)
        model = replace(model, relaxed=relaxed, beyond=relaxed.worth + above)
        enough = above <= max(0.5 * gap * relaxed.worth, TINY * max(1.0, relaxed.worth))
        if enough or len(more) >= number("allocation", "most_added") or left < 0.5 * seconds:
            break
        more += [way for _, way in asked]
        model = build(problem, more=more)
    return model


def _asked_for(model: Model, relaxed: Relaxed) -> list[tuple[float, Column]] | None:
    """The best open way of each object with what it is worth above the prices; None where it cannot be told."""
    start = len(model.objects)
    prices = {want: float(relaxed.prices[start + at]) for at, want in enumerate(model.wants)}
    best: dict[int, tuple[float, Column]] = {}
    for ways in model.open_ways:
        found = best_way(ways, model.objects[ways.place].worth, model.steps, prices)
        if found is None:
            return None
        value, way = found
        value -= float(relaxed.prices[ways.place])
        if way is not None and value > max(TINY, best.get(ways.place, (0.0, way))[0]):
            best[ways.place] = value, way
    return [best[place] for place in sorted(best)]
