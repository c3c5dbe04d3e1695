"""
The plan against every plan (brute force, tests/planning/random_collections.py), and against worked examples.

The greedy and the quality example were worked out by hand for this project; their numbers follow from the text.
"""

from __future__ import annotations

import pytest
from random_collections import best_worth, small

from kilter.planning.allocation.plan import allocate
from kilter.planning.allocation.problem import Donor, Finding, Lot, Offer, Problem, StandIn, Wanting
from kilter.planning.numbers import number

PIECE = number("allocation", "piece_loss")


def needs(name: str, worth: float, **parts: int) -> Wanting:
    return Wanting(name, worth, (Finding(1.0, parts),))


@pytest.mark.parametrize("first", range(0, 200, 20))
def test_no_plan_is_worth_more(first: int) -> None:
    for seed in range(first, first + 20):
        problem = small(seed)
        plan = allocate(problem, gap=0.0)
        assert plan.exact
        assert plan.worth == pytest.approx(best_worth(problem), abs=2e-6), seed
        assert plan.gap <= 1e-6


@pytest.mark.parametrize("seed", range(0, 200, 10))
def test_pieces_are_there_and_go_once(seed: int) -> None:
    problem = small(seed)
    plan = allocate(problem, gap=0.0)
    used: dict[tuple[str, str], int] = {}
    for made in plan.made:
        for piece in made.pieces:
            used[piece.origin, piece.part] = used.get((piece.origin, piece.part), 0) + 1
    there: dict[tuple[str, str], int] = {}
    for lot in problem.lots:
        there[lot.key, lot.part] = there.get((lot.key, lot.part), 0) + lot.count
    for donor in plan.broken:
        for lot in donor.lots:
            there[donor.number, lot.part] = there.get((donor.number, lot.part), 0) + lot.count
    for offer, count in plan.bought:
        there[offer.key, offer.part] = count
    assert all(n <= there.get(key, 0) for key, n in used.items())
    works = sum(one.wanting.worth * one.likely for one in plan.made)
    assert works >= plan.worth  # grades here are the very chances, so nothing is lost by rounding but what it costs
    assert not {one.wanting.number for one in plan.made} & {one.number for one in plan.broken}


def test_taking_the_worthiest_first_is_not_best() -> None:
    """A alone is worth 10; B and D together 15."""
    objects = (needs("A", 10, ram=2, pla=1), needs("B", 9, ram=1, pla=1), needs("C", 7, pla=1, snd=1),
               needs("D", 6, snd=1, ram=1))  # fmt: skip
    lots = (Lot("1", "ram", 2, 1.0), Lot("2", "pla", 1, 1.0), Lot("3", "snd", 1, 1.0))
    plan = allocate(Problem(objects, lots, grades=(1.0,)), gap=0.0)
    assert [one.wanting.number for one in plan.made] == ["B", "D"]
    assert plan.worth == pytest.approx(15 - 4 * PIECE)


@pytest.mark.parametrize(("worth", "best"), [(8, 12.1), (9, 12.6), (10, 13.5)])
def test_good_pieces_together_or_apart(worth: float, best: float) -> None:
    """Chips of 0.9, 0.9 and 0.5; A (10) needs two, B one. 0.81 x 10 + 0.5 v against 0.45 x 10 + 0.9 v."""
    objects = (needs("A", 10, chip=2), needs("B", worth, chip=1))
    lots = (Lot("1", "chip", 2, 0.9), Lot("2", "chip", 1, 0.5))
    plan = allocate(Problem(objects, lots, grades=(0.9, 0.5)), gap=0.0)
    assert best == pytest.approx(max(0.81 * 10 + 0.5 * worth, 0.45 * 10 + 0.9 * worth))
    assert plan.worth == pytest.approx(best - 3 * PIECE)
    if worth != 9:
        pair = {p.good for one in plan.made if one.wanting.number == "A" for p in one.pieces}
        assert pair == ({0.9} if worth < 9 else {0.9, 0.5})


def test_the_order_of_the_files_does_not_matter() -> None:
    for seed in range(40):
        one = small(seed)
        other = Problem(one.objects[::-1], one.lots[::-1], one.donors[::-1], one.offers, one.stand_ins, {}, one.grades)
        assert allocate(one, gap=0.0) == allocate(other, gap=0.0)


def test_of_equal_plans_the_one_that_breaks_nothing_and_then_the_longest_waiting() -> None:
    objects = (Wanting("HC 1", 5, (Finding(1.0, {"ram": 1}),), "1999-01-01"),
               Wanting("HC 2", 5, (Finding(1.0, {"ram": 1}),), "1994-01-01"),
               Wanting("HC 3", 5, (Finding(1.0, {"ram": 1}),), ""))  # fmt: skip
    lots = (Lot("1", "ram", 1, 1.0),)
    plan = allocate(Problem(objects, lots, grades=(1.0,)), gap=0.0)
    assert [one.wanting.number for one in plan.made] == ["HC 2"]


def test_a_donor_that_may_not_be_broken_stays_whole() -> None:
    from kilter.planning.accession import permission

    objects = (needs("A", 10, ram=1),)
    for may in (permission("loan"), permission(""), permission("accessioned", ["keeper"]), permission("pending")):
        plan = allocate(Problem(objects, donors=(Donor("B", (Lot("x", "ram", 1, 1.0),), 0.5, may),), grades=(1.0,)))
        assert plan.made == ()
        assert [one.number for one in plan.refused] == ["B"]
    may = permission("accessioned", ["keeper", "registrar", "Governing body"])
    plan = allocate(Problem(objects, donors=(Donor("B", (Lot("x", "ram", 1, 1.0),), 0.5, may),), grades=(1.0,)))
    assert [one.number for one in plan.broken] == ["B"]


@pytest.mark.parametrize("verdict", ["unknown", "not", ""])
def test_a_substitute_that_is_not_known_to_fit_is_not_used(verdict: str) -> None:
    problem = Problem(
        (needs("A", 10, ram=1),), (Lot("1", "dram", 1, 1.0),), stand_ins=(StandIn("ram", "dram", verdict),)
    )
    assert allocate(problem).made == ()


def test_what_is_kept_stays_on_the_shelf() -> None:
    objects = tuple(needs(f"A{k}", 10, ram=1) for k in range(3))
    problem = Problem(objects, (Lot("1", "ram", 2, 1.0), Lot("2", "ram", 1, 0.7)), keep={"ram": 2})
    assert len(allocate(problem, gap=0.0).made) == 1


def test_buying_where_it_pays() -> None:
    objects = (needs("A", 10, ram=1), needs("B", 1, ram=1))
    plan = allocate(Problem(objects, offers=(Offer("shop", "ram", 5, 1.0, 3.0),)), gap=0.0)
    assert plan.bought == ((Offer("shop", "ram", 5, 1.0, 3.0), 1),)
    assert [one.wanting.number for one in plan.made] == ["A"]


def test_nothing_to_share_out() -> None:
    assert allocate(Problem(())).worth == 0.0
    assert allocate(Problem((needs("A", 3, ram=1),))).waiting == (needs("A", 3, ram=1),)
