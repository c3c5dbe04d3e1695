"""What if: the plan without a donor, with a donor that was spared, with an object that has to wait."""

from __future__ import annotations

from dataclasses import dataclass

from kilter.measure.errors import BadInput, OutOfRange
from kilter.planning.allocation.plan import Plan, plan_of
from kilter.planning.allocation.prepare import prepare
from kilter.planning.allocation.problem import Problem
from kilter.planning.allocation.solve import solve
from kilter.planning.numbers import number


@dataclass(frozen=True)
class Otherwise:
    """
    The best plan under one more condition, beside the plan.

    Args:
        subject: Number of the donor or object.
        loss: By how much that plan is worth less; None where there is no such plan.
        gained: Objects that it makes to work and the plan does not.
        lost: Objects that the plan makes to work and it does not.
        plan: That plan.
    """

    subject: str
    loss: float | None
    gained: tuple[str, ...]
    lost: tuple[str, ...]
    plan: Plan | None


def without_donor(problem: Problem, plan: Plan, donor: str, *, gap: float = 0.0) -> Otherwise:
    """The best plan that leaves a donor whole."""
    return _donor(problem, plan, donor, 0.0, gap)


def with_donor(problem: Problem, plan: Plan, donor: str, *, gap: float = 0.0) -> Otherwise:
    """The best plan that takes a donor apart."""
    return _donor(problem, plan, donor, 1.0, gap)


def with_object(problem: Problem, plan: Plan, wanting: str, *, gap: float = 0.0) -> Otherwise:
    """
    The best plan that serves an object.

    Raises:
        BadInput: There is no such object.
    """
    model = prepare(problem, gap=gap, seconds=number("allocation", "explained_seconds"))
    names = [one.number for one in model.objects]
    if wanting not in names:
        raise BadInput("Cannot say why an object waits", f"the number '{wanting}'", ", ".join(names[:12]) or "nothing",
                       "Name an object of the collection file.")  # fmt: skip
    place = names.index(wanting)
    if not any(one.place == place for one in model.columns):
        return Otherwise(wanting, None, (), (), None)
    try:
        found = solve(model, gap=gap, seconds=number("allocation", "explained_seconds"), serve=place)
    except OutOfRange:
        return Otherwise(wanting, None, (), (), None)
    return _beside(wanting, plan, plan_of(problem, model, found))


def _donor(problem: Problem, plan: Plan, donor: str, broken: float, gap: float) -> Otherwise:
    model = prepare(problem, gap=gap, seconds=number("allocation", "explained_seconds"))
    names = [one.number for one in model.donors]
    if donor not in names:
        return Otherwise(donor, None, (), (), None)
    fixed = {model.starts[0] + names.index(donor): broken}
    found = solve(model, gap=gap, seconds=number("allocation", "explained_seconds"), fixed=fixed)
    return _beside(donor, plan, plan_of(problem, model, found))


def _beside(subject: str, plan: Plan, other: Plan) -> Otherwise:
    then, now = ({one.wanting.number for one in each.made} for each in (other, plan))
    return Otherwise(subject, plan.worth - other.worth, tuple(sorted(then - now)), tuple(sorted(now - then)), other)
