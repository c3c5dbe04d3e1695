"""The plan: which objects are made to work with which pieces, which donors are broken, what is bought."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import prod

import numpy as np

from kilter.planning.allocation.columns import Column
from kilter.planning.allocation.grades import grade
from kilter.planning.allocation.model import Class, Model
from kilter.planning.allocation.prepare import prepare
from kilter.planning.allocation.problem import Donor, Lot, Offer, Problem, Wanting
from kilter.planning.allocation.solve import HALF, Solution, solve
from kilter.planning.numbers import number, numbers


@dataclass(frozen=True)
class Piece:
    """
    One piece and where it goes.

    Args:
        wanted: Part that the object wants.
        part: Part that it gets.
        source: 'shelf', 'donor' or 'offer'.
        origin: Key of the lot or offer, or number of the donor.
        good: Chance that it is good and does the work of the part wanted.
        verdict: 'same', 'fit' or 'conditions'.
    """

    wanted: str
    part: str
    source: str
    origin: str
    good: float
    verdict: str


@dataclass(frozen=True)
class Made:
    """
    One object to be made to work.

    Args:
        wanting: The object.
        chance: That it then works, at least: the pieces count for the step of the grades that they reach.
        likely: The same with the chances of the very pieces.
        pieces: Set aside for it.
        provided: Findings that the pieces provide for, in words.
    """

    wanting: Wanting
    chance: float
    likely: float
    pieces: tuple[Piece, ...]
    provided: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """
    What is done with the parts.

    Args:
        made: Objects to be made to work, by number.
        waiting: Objects that have to wait.
        broken: Donors to be taken apart.
        spared: Donors that might have been and are not.
        refused: Donors that may not be taken apart, with the reason in their permission.
        bought: Offers and how many of each.
        worth: Expected worth of the plan: what works, less what it costs.
        bound: No plan with these grades is worth more.
        gap: Share by which this plan may fall short.
        exact: Whether the bound counts every way to serve every object.
    """

    made: tuple[Made, ...]
    waiting: tuple[Wanting, ...]
    broken: tuple[Donor, ...]
    spared: tuple[Donor, ...]
    refused: tuple[Donor, ...]
    bought: tuple[tuple[Offer, int], ...]
    worth: float
    bound: float
    gap: float
    exact: bool


def allocate(problem: Problem, *, gap: float | None = None, seconds: float | None = None) -> Plan:
    """
    The best plan.

    Args:
        problem: What there is to share out.
        gap: Stop when it is proved to be that near the best, as a share; None takes the setting.
        seconds: Stop after that time; None takes the setting.

    Raises:
        OutOfRange: No plan in that time, or grades that do not fall.
        NotAvailable: No optimiser on this machine.
    """
    wanted_gap = number("allocation", "gap") if gap is None else gap
    limit = number("allocation", "seconds") if seconds is None else seconds
    model = prepare(problem, gap=wanted_gap, seconds=limit)
    return plan_of(problem, model, solve(model, gap=wanted_gap, seconds=limit))


def plan_of(problem: Problem, model: Model, solution: Solution) -> Plan:
    """A solution in the words of the problem."""
    d, b, f = model.starts
    taken = solution.values > HALF
    chosen = [one for one, yes in zip(model.columns, taken[:d], strict=True) if yes]
    broken = tuple(one for one, yes in zip(model.donors, taken[d:b], strict=True) if yes)
    counts = np.round(solution.values[b:f]).astype(int)
    bought = tuple((one, int(n)) for one, n in zip(model.offers, counts, strict=True) if n)
    pieces = _pieces(problem, model, solution, chosen, broken, bought)
    made = tuple(_made(model, one, tuple(pieces[one.place])) for one in chosen)
    working = {one.wanting.number for one in made}
    away = working | {one.number for one in broken}
    return Plan(
        made=made,
        waiting=tuple(one for one in model.objects if one.number not in away),
        broken=broken,
        spared=tuple(one for one in model.donors if one.number not in away),
        refused=tuple(sorted((o for o in problem.donors if not o.permission.may), key=lambda o: o.number)),
        bought=bought,
        worth=solution.worth,
        bound=solution.bound,
        gap=solution.gap,
        exact=model.exact,
    )


def _pieces(
    problem: Problem, model: Model, solution: Solution, chosen: list[Column], broken: tuple[Donor, ...],
    bought: tuple[tuple[Offer, int], ...],
) -> dict[int, list[Piece]]:  # fmt: skip
    """Which piece goes to which object: shelf first, then donors, then what is bought, always in the same order."""
    verdicts = {(one.wanted, one.part): one.verdict for one in problem.stand_ins}
    factors, shelves = numbers("allocation", "substitute_factor"), _shelves(problem, model, broken, bought)
    waiting: dict[Class, list[int]] = {}
    for column in chosen:
        for want, n in sorted(column.use.items()):
            waiting.setdefault(want, []).extend([column.place] * n)
    found: dict[int, list[Piece]] = {column.place: [] for column in chosen}
    for flow, count in zip(model.flows, np.round(solution.values[model.starts[2] :]).astype(int), strict=True):
        for _ in range(int(count)):
            if not waiting.get(flow.want):
                break
            place, wanted, piece = waiting[flow.want].pop(0), flow.want[0], next(shelves[flow.source])
            if wanted != piece.part:
                verdict = verdicts[wanted, piece.part]
                piece = replace(piece, wanted=wanted, verdict=verdict, good=piece.good * factors[verdict])
            found[place].append(piece)
    return found


def _shelves(
    problem: Problem, model: Model, broken: tuple[Donor, ...], bought: tuple[tuple[Offer, int], ...]
) -> dict[Class, Iterator[Piece]]:
    pieces: dict[Class, list[Piece]] = {one: [] for one in model.supply[1]}

    def put(lot: Lot, source: str, origin: str) -> None:
        at = grade(lot.good, model.steps)
        if at is not None:
            pieces[lot.part, at] += [Piece(lot.part, lot.part, source, origin, lot.good, "same")] * lot.count

    for lot in sorted(problem.lots, key=lambda one: (-one.good, one.key)):
        put(lot, "shelf", lot.key)
    for donor in broken:
        for lot in sorted(donor.lots, key=lambda one: (-one.good, one.key)):
            put(lot, "donor", donor.number)
    for offer, count in bought:
        put(Lot(offer.key, offer.part, count, offer.good), "offer", offer.key)
    return {key: iter(some) for key, some in pieces.items()}


def _made(model: Model, column: Column, pieces: tuple[Piece, ...]) -> Made:
    wanting = model.objects[column.place]
    held: dict[str, list[float]] = {}
    for piece in sorted(pieces, key=lambda one: -one.good):
        held.setdefault(piece.wanted, []).append(piece.good)
    reach = [
        one for one in wanting.findings if all(len(held.get(part, ())) >= n for part, n in one.needs.items() if n > 0)
    ]
    likely = sum(one.chance * prod(g for part, n in one.needs.items() for g in held.get(part, ())[:n]) for one in reach)
    return Made(wanting, column.chance, likely, pieces, tuple(one.words for one in reach if one.words))
