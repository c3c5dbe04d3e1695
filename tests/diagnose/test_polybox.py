"""
The five-part arithmetic board of de Kleer and Williams 1987 (Artificial Intelligence 32, 97-130).

The observation F = 10, G = 12 is theirs. The four minimal diagnoses are recomputed here with a SAT hitting-set solver;
the probabilities are closed-form sums over fault sets for 16 possible values of a broken part.
"""

from functools import cache

import numpy as np
import pytest

from boards import polybox, word_read
from kilter.diagnose.enumerate import Limits, search
from kilter.diagnose.priors import priors

PARTS = ("M1", "M2", "M3", "A1", "A2")


@cache
def posterior(readings):
    shares, predict = polybox()
    evidence = [word_read(point, value) for point, value in readings]
    limits = Limits(max_faults=2, complete_limit=3000)
    return search(predict, priors(shares, outside=0.0), evidence, limits=limits)


def by_set(found):
    shares = {}
    for one, weight in zip(found.hypotheses, found.weights, strict=True):
        parts = frozenset(part for part, _ in one)
        shares[parts] = shares.get(parts, 0.0) + weight
    return shares


def test_after_f_alone_the_three_suspects_are_equal():
    """0.3234 each: closed form for p = 0.01, independent parts."""
    found = by_set(posterior((("F", "10"),)))
    for part in ("M1", "M2", "A1"):
        assert found[frozenset({part})] == pytest.approx(0.3234, abs=2e-4)


def test_after_f_and_g():
    found = posterior((("F", "10"), ("G", "12")))
    shares, parts = by_set(found), found.parts()
    assert shares[frozenset({"M1"})] == pytest.approx(0.4962, abs=2e-4)
    assert shares[frozenset({"A1"})] == pytest.approx(0.4962, abs=2e-4)
    assert [round(parts[part], 4) for part in ("M1", "A1")] == pytest.approx([0.5022, 0.5022], abs=3e-4)
    assert parts["M2"] == pytest.approx(0.0013, abs=1e-4)
    assert parts["M3"] == pytest.approx(0.0010, abs=1e-4)


def test_minimal_diagnoses_equal_those_of_a_hitting_set_solver():
    """Conflicts {A1,M1,M2} and {A1,A2,M1,M3}, as derived by de Kleer and Williams; hitting sets by PySAT."""
    hitman = pytest.importorskip("pysat.examples.hitman", reason="the outside SAT library is not installed")
    with hitman.Hitman(bootstrap_with=[["A1", "M1", "M2"], ["A1", "A2", "M1", "M3"]], htype="sorted") as solver:
        expected = {frozenset(one) for one in solver.enumerate()}
    possible = {parts for parts, share in by_set(posterior((("F", "10"), ("G", "12")))).items() if share > 1e-12}
    minimal = {one for one in possible if not any(other < one for other in possible)}
    assert minimal == expected
    assert len(expected) == 4


def test_probing_x_tells_which_of_the_two_it_is():
    """X = 4 blames M1, X = 6 blames A1."""
    assert posterior((("F", "10"), ("G", "12"), ("X", "4"))).parts()["M1"] > 0.98
    assert posterior((("F", "10"), ("G", "12"), ("X", "6"))).parts()["A1"] > 0.98


def test_weights_sum_to_one():
    found = posterior((("F", "10"), ("G", "12")))
    assert found.weights.sum() + found.not_in_model == pytest.approx(1.0, abs=1e-12)
    assert np.all(np.diff(found.weights) <= 0)
