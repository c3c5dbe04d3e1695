"""Random small collections, and the worth of their best plan by looking at every plan."""

from __future__ import annotations

from itertools import combinations, product
from math import prod

import numpy as np

from kilter.planning.accession import Permission
from kilter.planning.allocation.problem import Donor, Finding, Lot, Offer, Problem, StandIn, Wanting
from kilter.planning.numbers import number, numbers

YES = Permission(True, "for the test")
PARTS = ("P1", "P2", "P3")


def small(seed: int) -> Problem:
    """Two to four objects, up to two donors, at most seven pieces, a substitute, perhaps an offer."""
    draw = np.random.default_rng(seed)
    grades = (0.9, 0.6)

    def lots(prefix: str, most: int) -> tuple[Lot, ...]:
        parts = draw.choice(PARTS, size=int(draw.integers(0, most + 1)))
        return tuple(Lot(f"{prefix}{k}", str(p), 1, float(draw.choice(grades))) for k, p in enumerate(parts))

    objects = []
    for k in range(int(draw.integers(2, 5))):
        count = int(draw.integers(1, 3))
        chances = np.round(draw.dirichlet(np.ones(count + 1))[:count], 2)
        findings = []
        for chance in chances:
            chosen = draw.choice(PARTS, size=int(draw.integers(0, 3)))
            needs = {str(p): int((chosen == p).sum()) for p in sorted(set(chosen))}
            findings.append(Finding(float(chance), needs, "+".join(needs)))
        objects.append(Wanting(f"HC {k:03d}", float(draw.integers(1, 11)), tuple(findings)))
    numbers_ = draw.choice([one.number for one in objects] + ["HC 900", "HC 901"], size=int(draw.integers(0, 3)),
                           replace=False)  # fmt: skip
    donors = tuple(Donor(str(n), lots(f"{n}/", 2), float(draw.choice([0.5, 1.0, 3.0])), YES) for n in numbers_)
    offers = (Offer("shop", str(draw.choice(PARTS)), 1, 0.9, float(draw.choice([0.5, 2.0]))),)
    stands = (StandIn("P1", "P2", str(draw.choice(["fit", "conditions", "unknown", "not"]))),)
    return Problem(tuple(objects), lots("shelf", 4), donors, offers[: int(draw.integers(0, 2))], stands, {}, grades)


def best_worth(problem: Problem) -> float:
    """
    Worth of the best plan, by trying every one.

    Every set of donors and purchases, and every way to set pieces of the heap that results aside for the objects one
    after another. A piece that stands in for another counts with its factor, rounded down to a grade, as the planner
    documents; nothing else of the planner is used.
    """
    best, names = 0.0, {one.number for one in problem.objects}
    sets = [c for size in range(len(problem.donors) + 1) for c in combinations(problem.donors, size)]
    for broken, counts in product(sets, product(*(range(o.most + 1) for o in problem.offers))):
        heap: dict[tuple[str, float], int] = {}
        for lot in (*problem.lots, *(lot for donor in broken for lot in donor.lots)):
            heap[lot.part, lot.good] = heap.get((lot.part, lot.good), 0) + lot.count
        for offer, n in zip(problem.offers, counts, strict=True):
            heap[offer.part, offer.good] = heap.get((offer.part, offer.good), 0) + n
        cost = sum(d.loss for d in broken) + sum(o.cost * n for o, n in zip(problem.offers, counts, strict=True))
        left = [one for one in problem.objects if one.number not in {d.number for d in broken} & names]
        best = max(best, _serve(problem, left, tuple(sorted(heap.items())), {}) - cost)
    return best


def _serve(problem: Problem, left: list[Wanting], heap: tuple, known: dict) -> float:
    """Most worth from these objects and this heap: the first gets every possible set of pieces in turn."""
    if not left:
        return 0.0
    key = (len(left), heap)
    if key not in known:
        first, rest = left[0], left[1:]
        best = _serve(problem, rest, heap, known)
        for taken, after in _takings(heap, most=4):
            worth = _worth(problem, first, taken)
            if worth > 0:
                best = max(best, worth + _serve(problem, rest, after, known))
        known[key] = best
    return known[key]


def _takings(heap: tuple, most: int):
    """Every part of the heap of at most so many pieces, with what is left."""
    for counts in product(*(range(n + 1) for _, n in heap)):
        if sum(counts) <= most:
            taken = [kind for (kind, _), n in zip(heap, counts, strict=True) for _ in range(n)]
            yield taken, tuple((kind, n - c) for (kind, n), c in zip(heap, counts, strict=True))


def _worth(problem: Problem, one: Wanting, taken: list[tuple[str, float]]) -> float:
    """Worth of one object that is given just these pieces, by every way to fill its wants with them."""
    factors, losses = numbers("allocation", "substitute_factor"), numbers("allocation", "substitute_loss")
    may = {(s.wanted, s.part): s.verdict for s in problem.stand_ins if s.verdict in factors}
    ways = []
    for part, good in taken:
        own = [(part, good, number("allocation", "piece_loss"))]
        for (wanted, other), verdict in may.items():
            then = [step for step in problem.grades if good * factors[verdict] >= step - 1e-9]
            if other == part and then:
                own.append((wanted, max(then), number("allocation", "piece_loss") + losses[verdict]))
        ways.append(own)
    best = float("-inf")
    for chosen in product(*ways):
        held: dict[str, list[float]] = {}
        for wanted, good, _ in chosen:
            held.setdefault(wanted, []).append(good)
        chance = 0.0
        for finding in one.findings:
            if all(len(held.get(p, ())) >= n for p, n in finding.needs.items()):
                chance += finding.chance * prod(
                    prod(sorted(held[p], reverse=True)[:n]) for p, n in finding.needs.items()
                )
        if chance >= number("allocation", "least_chance"):
            best = max(best, one.worth * chance - sum(loss for _, _, loss in chosen))
    return best
