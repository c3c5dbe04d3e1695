"""
What benchmarks/calibration.py draws: objects with nothing wrong, and with faults outside the model, as the prior says.

Shares are compared with the binomial distribution (scipy); what a bridge and a broken track are follows from the words.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest

from kilter.diagnose.priors import priors_of
from kilter.importers.load import load_board

ROOT = Path(__file__).parents[2]
DRAWS = 250


@pytest.fixture
def modules(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "benchmarks" / "closed_loop"))
    monkeypatch.syspath_prepend(str(ROOT / "benchmarks"))
    before = set(sys.modules)
    import elsewhere

    import calibration

    yield calibration, elsewhere
    for name in set(sys.modules) - before:
        if str(ROOT / "benchmarks") in str(getattr(sys.modules[name], "__file__", "")):
            del sys.modules[name]


def test_objects_are_drawn_as_often_as_the_prior_says(modules):
    calibration, _ = modules
    plan = calibration.plans(["reset"])[0]
    shared = {"seed": 3, "sizes": True, "visible": False, "faults_only": False}
    counts = {"fault": 0, "nothing": 0, "outside": 0}
    for number in range(DRAWS):
        case = calibration.drawn_case(plan, None, number, shared)
        counts["fault" if case.bench.faults else "nothing" if calibration._as_built(case) else "outside"] += 1
    priors = priors_of(plan.board, not_working=True)
    expected = {"nothing": float(np.exp(priors.log_mass(0)[0])), "outside": float(np.exp(priors.log_outside))}
    for name, share in expected.items():
        assert binomtest(counts[name], DRAWS, share).pvalue > 1e-4, counts
    assert binomtest(counts["fault"], DRAWS, 1.0 - sum(expected.values())).pvalue > 1e-4, counts


def test_with_faults_only_every_object_has_one(modules):
    calibration, _ = modules
    plan = calibration.plans(["reset"])[0]
    shared = {"seed": 3, "sizes": True, "visible": False, "faults_only": True}
    assert all(calibration.drawn_case(plan, None, number, shared).bench.faults for number in range(30))


def test_what_is_outside_the_model_is_no_fault_of_one_part(modules):
    _, elsewhere = modules
    board = load_board(ROOT / "tests" / "netlists" / "reset.cir")
    bridges = cuts = 0
    for seed in range(60):
        found = elsewhere.broken(board, np.random.default_rng(seed))
        more = found.elements.keys() - board.elements.keys()
        if more:
            (bridge,) = (found.elements[name] for name in more)
            assert not any(set(bridge.nodes) <= set(one.nodes) for one in board.elements.values())
            assert 0.1 <= bridge.value <= 10.0
            bridges += 1
            continue
        moved = [
            (old, new)
            for name, one in board.elements.items()
            for old, new in zip(one.nodes, found.elements[name].nodes, strict=True)
            if old != new
        ]
        assert len({old for old, _ in moved}) == 1
        track = moved[0][0]
        left = sum(node == track for one in found.elements.values() for node in one.nodes)
        assert len(moved) >= 2
        assert left >= 2
        cuts += 1
    assert bridges > 10
    assert cuts > 10
