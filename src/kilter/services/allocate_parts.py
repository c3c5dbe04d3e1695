"""Share out parts: from a collection with its diagnoses to a plan, its reasons, and what to buy or ask for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from kilter.planning.allocation.explain import Explained, explain
from kilter.planning.allocation.otherwise import Otherwise, with_object
from kilter.planning.allocation.plan import Made, Piece, Plan, allocate
from kilter.planning.allocation.prices import Price, prices
from kilter.planning.allocation.problem import Problem
from kilter.planning.allocation.worlds import (
    FirstStage,
    decide_first,
    draw_worlds,
    every_world,
    world_count,
    worth_of,
)
from kilter.planning.numbers import number

CAUTIONS = (
    "The plan weighs chances and worth that people put in; whether an object may be taken apart is decided by those "
    "who answer for it, under the rules of the house, the terms of gifts and the law, before anybody takes a tool.",
    "A part that is counted as good may be bad: test it before it goes into an object, and keep what comes out, "
    "numbered, with the object it came from.",
    "Unplug a donor, and measure its large capacitors and discharge them slowly through a resistor before parts are "
    "taken from it; mains parts, picture tubes and batteries are work for people trained for them.",
)


SEED = 1


@dataclass(frozen=True)
class AfterDiagnosis:
    """
    What it is worth to settle the diagnoses before parts are shared out, and what to decide on before.

    Args:
        first: Donors and purchases decided before, over the worlds that were looked at.
        worth: Expected worth of them over worlds that they were not chosen by. [points]
        spread: Standard error of that; 0 where every world was looked at. [points]
        plan: Expected worth of the plan's own donors and purchases over the same worlds. [points]
        worlds: How many were looked at.
        every: Whether those are all.
    """

    first: FirstStage
    worth: float
    spread: float
    plan: float
    worlds: int
    every: bool


@dataclass(frozen=True)
class Allocation:
    """
    A plan with all that is said about it.

    Args:
        problem: What there was to share out.
        plan: Who gets what.
        reasons: For donors and for objects that wait.
        prices: Parts of which one more would help, dearest first; None where it was not asked for.
        why_not: The plan that serves an object that somebody asked about.
        after: What it is worth to settle the diagnoses first; None where it was not asked for.
    """

    problem: Problem
    plan: Plan
    reasons: tuple[Explained, ...]
    prices: tuple[Price, ...] | None
    why_not: Otherwise | None
    after: AfterDiagnosis | None = None

    def plain(self) -> dict[str, Any]:
        """As plain data; the machine interface (docs/machine-interface.md)."""
        return {
            "made": [_made(one) for one in self.plan.made],
            "broken": [one.number for one in self.plan.broken],
            "waiting": [one.number for one in self.plan.waiting],
            "refused": [
                {"number": one.number, "why": one.permission.why, "missing_approvals": list(one.permission.missing)}
                for one in self.plan.refused
            ],
            "bought": [{"key": one.key, "part": one.part, "count": n} for one, n in self.plan.bought],
            "worth": self.plan.worth,
            "bound": self.plan.bound,
            "gap": self.plan.gap,
            "every_way": self.plan.exact,
            "reasons": [{"about": one.about, "subject": one.subject, "words": one.words} for one in self.reasons],
            "one_more": None if self.prices is None else [_price(one) for one in self.prices],
            "why_not": None if self.why_not is None else _otherwise(self.why_not),
            "after_diagnosis": None if self.after is None else _after(self.after),
            "cautions": list(CAUTIONS),
        }


def allocate_parts(
    problem: Problem,
    *,
    gap: float | None = None,
    seconds: float | None = None,
    what_to_buy: bool = True,
    why_not: str = "",
    worlds: int = 0,
) -> Allocation:
    """
    The best plan with its reasons.

    Args:
        problem: What there is to share out.
        gap: Stop when the plan is proved to be that near the best; None takes the setting.
        seconds: Stop after that time; None takes the setting.
        what_to_buy: Also work out what one more piece would be worth.
        why_not: Number of an object about which somebody asks why it has to wait.
        worlds: Ways in which the diagnoses may turn out that are looked at, for deciding on donors and purchases before
            and on who gets what after; 0 leaves that out.

    Raises:
        OutOfRange: No plan in that time, or too many worlds.
    """
    plan = allocate(problem, gap=gap, seconds=seconds)
    few = len(problem.objects) <= number("allocation", "exact_objects")
    near = 0.0 if few else number("allocation", "gap") if gap is None else gap
    return Allocation(
        problem, plan, explain(problem, plan, gap=near),
        prices(problem, plan, gap=near, seconds=seconds) if what_to_buy else None,
        with_object(problem, plan, why_not, gap=near) if why_not else None,
        _settled_first(problem, plan, worlds, gap, seconds) if worlds else None,
    )  # fmt: skip


def _settled_first(
    problem: Problem, plan: Plan, count: int, gap: float | None, seconds: float | None
) -> AfterDiagnosis:
    near = number("allocation", "gap") if gap is None else gap
    limit = number("allocation", "seconds") if seconds is None else seconds
    every = world_count(problem) <= count
    seen = every_world(problem) if every else draw_worlds(problem, count, SEED)
    fresh = seen if every else draw_worlds(problem, count, SEED + 1)
    first = decide_first(problem, seen, gap=near, seconds=limit)
    worths = [
        worth_of(
            problem, fresh, [one.number for one in broken], [(o.key, n) for o, n in bought], gap=near, seconds=limit
        )
        for broken, bought in ((first.broken, first.bought), (plan.broken, plan.bought))
    ]
    return AfterDiagnosis(first, *worths[0], worths[1][0], len(seen), every)


def _after(one: AfterDiagnosis) -> dict[str, Any]:
    return {
        "broken": [donor.number for donor in one.first.broken],
        "bought": [{"key": offer.key, "part": offer.part, "count": n} for offer, n in one.first.bought],
        "worth": one.worth, "spread": one.spread, "worth_with_the_plans_donors": one.plan, "worlds": one.worlds,
        "every_world": one.every,
    }  # fmt: skip


def _made(one: Made) -> dict[str, Any]:
    return {
        "number": one.wanting.number,
        "worth": one.wanting.worth,
        "chance_at_least": one.chance,
        "chance": one.likely,
        "provides_for": list(one.provided),
        "pieces": [_piece(piece) for piece in one.pieces],
    }


def _piece(one: Piece) -> dict[str, Any]:
    return {"wanted": one.wanted, "part": one.part, "source": one.source, "origin": one.origin, "good": one.good,
            "verdict": one.verdict}  # fmt: skip


def _price(one: Price) -> dict[str, Any]:
    return {"part": one.part, "price": one.price, "gain": one.gain, "serves": list(one.serves)}


def _otherwise(one: Otherwise) -> dict[str, Any]:
    return {"subject": one.subject, "loss": one.loss, "gained": list(one.gained), "lost": list(one.lost)}
