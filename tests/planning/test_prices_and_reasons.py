"""Prices against linear-programming duality done by hand; gains and reasons against plans worked out afresh."""

from __future__ import annotations

from dataclasses import replace

import pytest
from random_collections import YES, best_worth, small

from kilter.measure.errors import BadInput
from kilter.planning.accession import permission
from kilter.planning.allocation.explain import explain
from kilter.planning.allocation.otherwise import with_object, without_donor
from kilter.planning.allocation.plan import allocate
from kilter.planning.allocation.prices import prices
from kilter.planning.allocation.problem import Donor, Finding, Lot, Problem, Wanting


def needs(name: str, worth: float, **parts: int) -> Wanting:
    return Wanting(name, worth, (Finding(1.0, parts),))


def test_price_of_one_more_by_hand() -> None:
    """
    Three objects worth 9, 5 and 2 that want one ram each, two rams: one more serves the third, and is worth 2.

    The dual of max sum w x, sum x <= 2, 0 <= x <= 1 is the worth of the best that is left out; a piece used up costs
    its own loss of 0.001.
    """
    problem = Problem((needs("A", 9, ram=1), needs("B", 5, ram=1), needs("C", 2, ram=1)), (Lot("1", "ram", 2, 1.0),),
                      grades=(1.0,))  # fmt: skip
    plan = allocate(problem, gap=0.0)
    (one,) = prices(problem, plan)
    assert one.part == "ram"
    assert one.price == pytest.approx(2 - 0.001, abs=1e-6)
    assert one.gain == pytest.approx(2 - 0.001, abs=1e-6)
    assert one.serves == ("C",)


def test_a_part_that_is_nowhere_has_its_price() -> None:
    problem = Problem((needs("A", 9, pla=1),), grades=(1.0,))
    (one,) = prices(problem, allocate(problem, gap=0.0))
    assert (one.part, one.gain) == ("pla", pytest.approx(9 - 0.001, abs=1e-6))


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_gain_is_that_of_the_plan_with_one_more(seed: int) -> None:
    """Against every plan of the richer collection."""
    problem = small(seed)
    plan = allocate(problem, gap=0.0)
    for one in prices(problem, plan):
        richer = replace(problem, lots=(*problem.lots, Lot("more", one.part, 1, problem.grades[0])))
        assert one.gain == pytest.approx(best_worth(richer) - best_worth(problem), abs=1e-5)


@pytest.mark.parametrize("seed", range(1, 60, 3))
def test_without_a_donor(seed: int) -> None:
    """Against every plan of the collection without that donor."""
    problem = small(seed)
    plan = allocate(problem, gap=0.0)
    for donor in plan.broken:
        poorer = replace(problem, donors=tuple(one for one in problem.donors if one.number != donor.number))
        other = without_donor(problem, plan, donor.number)
        assert other.loss == pytest.approx(best_worth(problem) - best_worth(poorer), abs=1e-5)


def test_reasons_name_what_happens() -> None:
    objects = (needs("HC 1", 10, ram=2), needs("HC 2", 6, pla=1), needs("HC 3", 2, snd=1), needs("HC 4", 1, pla=1))
    donors = (
        Donor("HC 8", (Lot("a", "ram", 2, 1.0), Lot("b", "pla", 1, 1.0)), 3.0, YES),
        Donor("HC 9", (Lot("a", "snd", 1, 1.0),), 4.0, YES),
        Donor("HC 7", (Lot("a", "snd", 1, 1.0),), 0.5, permission("loan")),
    )
    problem = Problem(objects, donors=donors, grades=(1.0,))
    plan = allocate(problem, gap=0.0)
    told = {one.subject: one.words for one in explain(problem, plan)}
    assert told["HC 8"].startswith("HC 8 is taken apart because it gives 2 × ram to HC 1; 1 × pla to HC 2.")
    assert "13.00 less: HC 1 and HC 2 would have to wait" in told["HC 8"]
    assert "It would serve HC 3, and what goes with it is worth 4.00: a plan worth 2.00 less." in told["HC 9"]
    assert "belongs to somebody else" in told["HC 7"]
    assert "Serving it makes a plan worth 5.00 less: HC 2 would have to wait." in told["HC 4"]
    assert "HC 9 would be taken apart" in told["HC 3"]


def test_no_such_object() -> None:
    problem = Problem((needs("A", 1),))
    with pytest.raises(BadInput, match="the number 'Z'"):
        with_object(problem, allocate(problem), "Z")
