"""What an object wants and what a donor would give, from a diagnosis: visit a was simulated with R41 drifted high."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.planning.allocation.plan import allocate
from kilter.planning.allocation.problem import Finding, Lot, Problem, Wanting
from kilter.planning.findings import findings_of
from kilter.planning.numbers import numbers
from kilter.planning.part_types import part_type
from kilter.planning.stock import donor_lots
from kilter.services.diagnose import Diagnosis
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board, load_readings

DEMO = Path(__file__).parents[2] / "src" / "kilter" / "data" / "demo"


@pytest.fixture(scope="module")
def visit_a() -> Diagnosis:
    board = load_board(DEMO)
    with diagnoser(board) as weigher:
        return weigher.diagnose(load_readings(DEMO / "a.csv", board))


def test_findings_ask_for_the_part_that_was_built_in(visit_a: Diagnosis) -> None:
    findings = findings_of(visit_a.visit.board, visit_a.posterior)
    assert findings[0].needs == {"resistor 100k": 1}
    assert findings[0].chance > 0.5
    assert sum(one.chance for one in findings) <= 1.0
    with_it = sum(one.chance for one in findings if one.needs.get("resistor 100k"))
    assert with_it <= visit_a.posterior.parts()["R41"]


def test_a_donor_part_is_as_good_as_its_own_diagnosis_says(visit_a: Diagnosis) -> None:
    """One less the probability that it is faulty, times the chance that it survives being taken out."""
    board, faulty = visit_a.visit.board, visit_a.posterior.parts()
    lots = {lot.key: lot for lot in donor_lots(board, visit_a.posterior)}
    assert set(lots) == set(board.parts)
    survives = numbers("stock", "survives")
    for ref, lot in lots.items():
        stands = "socketed" if board.parts[ref].socketed else "original" if board.parts[ref].original else "later"
        assert lot.good == pytest.approx((1.0 - faulty.get(ref, 0.0)) * survives[stands])
        assert lot.part == part_type(board.parts[ref])
    assert lots["R41"].good < 0.05 < lots["U8"].good


def test_very_many_pieces_of_one_part() -> None:
    """Ten thousand pieces of one part in four grades have more ways than can be told; it is said, and nothing hangs."""
    lots = tuple(Lot(f"{k}", "lamp", 6000, good) for k, good in enumerate((0.96, 0.85, 0.7, 0.4)))
    objects = tuple(Wanting(f"H{k}", 1e6, (Finding(1.0, {"lamp": n}),)) for k, n in enumerate((10_000, 2)))
    plan = allocate(Problem(objects, lots))
    assert [one.wanting.number for one in plan.made] == ["H1"]  # 0.95 to the ten-thousandth is no chance at all
    assert not plan.exact
