"""
Grades of pieces: the chance that a piece is good, rounded down to a few steps.

Rounding down keeps a plan honest (it never counts on more than is known) and lets pieces of one part and one grade be
exchanged for each other, which is what keeps the plan of a large collection small enough to be solved.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from kilter.measure.errors import OutOfRange
from kilter.planning.allocation.problem import Problem
from kilter.planning.numbers import numbers

SLACK = 1e-9
"""Rounding of a product such as 0.9 x 1.0 must not cost a grade."""


def grades_of(problem: Problem) -> tuple[float, ...]:
    """
    The steps, falling.

    Raises:
        OutOfRange: They do not fall, or are no chances.
    """
    steps = problem.grades or tuple(float(one) for one in numbers("allocation", "grades"))
    falling = all(a > b for a, b in pairwise(steps))
    if not steps or not falling or not 0.0 < steps[-1] <= steps[0] <= 1.0:
        raise OutOfRange("Cannot share out the parts", f"the grades {steps}", "falling chances above 0 and up to 1",
                         "Correct the grades.")  # fmt: skip
    return steps


def grade(chance: float, steps: Sequence[float]) -> int | None:
    """
    Place of the highest step that a chance reaches, None where it reaches none.

    >>> grade(0.85, (0.9, 0.8)), grade(0.9 * 1.0, (0.9, 0.8)), grade(0.5, (0.9, 0.8))
    (1, 0, None)
    """
    return next((at for at, step in enumerate(steps) if chance >= step - SLACK), None)
