"""Ties, reasons, unexplained readings and the stop rule."""

import numpy as np
import pytest
from scipy.stats import norm
from test_ask import candidate
from test_weigh import NONE

from boards import number_predict, number_read, number_test
from kilter.circuit.board import Board
from kilter.diagnose.ask import ask
from kilter.diagnose.cost import Bench
from kilter.diagnose.enumerate import search
from kilter.diagnose.evidence import Candidate
from kilter.diagnose.expect import expect
from kilter.diagnose.explain import explain, unexplained
from kilter.diagnose.priors import priors
from kilter.diagnose.stop import Repair, decide, repairs_of
from kilter.diagnose.ties import ties
from kilter.records.part import Part

POINTS = ("a", "b", "c")
R1, R2, C1 = ("R1", "open"), ("R2", "open"), ("C1", "short")
MEANS = {
    NONE: [5.0, 3.0, 1.0],
    frozenset({R1}): [0.0, 3.0, 1.0],
    frozenset({R2}): [0.0, 3.0, 1.02],
    frozenset({C1}): [0.0, 0.0, 1.0],
}
SHARES = {R1: 0.05, R2: 0.05, C1: 0.05}
REPAIRS = {"R1": Repair(20, 4), "R2": Repair(20, 4), "C1": Repair(20, 4)}


def visit(evidence, shares=SHARES, means=MEANS):
    predict = number_predict(POINTS, means)
    found = search(predict, priors(shares), evidence)
    done = {one.test.point for one in evidence}
    tests = [candidate(point) for point in POINTS if point not in done]
    return predict, found, expect(found, predict, evidence, tests), tests


def test_suspects_that_no_test_parts_are_tied_and_others_are_not():
    _, found, expected, _ = visit([number_read("a", 0.0)])
    assert ties(found, expected) == (("R1", "R2"),)


def test_everything_is_tied_when_no_test_is_left():
    predict, found, _, _ = visit([number_read("a", 0.0)])
    assert ties(found, expect(found, predict, [], [])) == (("C1", "R1", "R2"),)


def test_a_sharp_enough_test_breaks_the_tie():
    predict, found, _, _ = visit([number_read("a", 0.0)], means=MEANS | {frozenset({R2}): [0.0, 3.0, 1.8]})
    assert ties(found, expect(found, predict, [], [candidate("b"), candidate("c")])) == ()


def test_weight_of_a_reading_is_the_log_ratio_of_densities():
    """One reading, two single faults of equal prior, so the ratio can be written down (scipy's normal density)."""
    means = {NONE: [5.0, 3.0, 1.0], frozenset({R1}): [0.0, 3.0, 1.0]}
    evidence = [number_read("a", 0.1), number_read("b", 3.0)]
    predict, found, _, _ = visit(evidence, {R1: 0.05}, means)
    reasons = explain(found, predict, evidence, "R1")
    sd = np.hypot(0.1, evidence[0].noise)
    density = [0.98 * norm.pdf(0.1, mean, sd) + 0.02 / 20 for mean in (0.0, 5.0)]
    assert reasons[0].reading == 0
    assert reasons[0].weight == pytest.approx(np.log10(density[0] / density[1]), abs=1e-6)
    assert reasons[0].words == "speaks decisively for"
    assert reasons[0].healthy == "4.80 V to 5.20 V"
    assert reasons[1].words == "says little"


def test_a_gross_error_is_named():
    evidence = [number_read("a", 0.0), number_read("b", 3.0), number_read("c", 15.0)]
    _, found, _, _ = visit(evidence)
    assert [one.reading for one in unexplained(found, evidence)] == [2]


def test_readings_outside_the_model_are_named():
    evidence = [number_read("a", 9.0), number_read("b", 9.5), number_read("c", 8.0)]
    _, found, _, _ = visit(evidence)
    assert found.not_in_model > 0.5
    assert {one.reading for one in unexplained(found, evidence)} == {0, 1, 2}


def decision(evidence, repairs=REPAIRS, **more):
    _, found, expected, _ = visit(evidence)
    advice = ask(found, expected, evidence, Bench())
    return decide(found, expected, advice, repairs, ties(found, expected), **more)


def test_a_cheap_test_that_parts_two_repairs_comes_before_the_iron():
    found = decision([number_read("a", 0.0)])
    assert found.action == "test"
    assert found.advice.test.point == "b"
    assert found.losses["test"] < found.losses["act"]


def test_a_clear_suspect_is_acted_on_when_no_test_is_left():
    found = decision([number_read("a", 0.0), number_read("b", 0.0), number_read("c", 1.0)])
    assert (found.action, found.parts) == ("act", ("C1",))
    assert found.fixed > 0.9


def test_a_tie_is_acted_on_as_a_whole_when_that_is_cheaper_than_staying_silent():
    found = decision([number_read("a", 0.0), number_read("b", 3.0), number_read("c", 1.01)])
    assert (found.action, found.parts) == ("act", ("R1", "R2"))


def test_leaving_it_wins_when_every_repair_costs_more_than_silence():
    dear = {part: Repair(100, 6) for part in REPAIRS}
    found = decision([number_read("a", 0.0), number_read("b", 0.0), number_read("c", 1.0)], dear)
    assert found.action == "leave"
    assert found.parts == ()


def test_a_healthy_object_is_left_alone():
    found = decision([number_read("a", 5.0), number_read("b", 3.0), number_read("c", 1.0)])
    assert found.action == "leave"
    assert found.losses["leave"] < found.losses["act"]


def test_more_to_lose_never_makes_leaving_more_attractive():
    evidence = [number_read("a", 0.0)]
    gaps = []
    for lost in (50.0, 200.0, 800.0, 3000.0):
        losses = decision(evidence, static_loss=lost).losses
        gaps.append(losses["leave"] - min(losses["act"], losses["test"]))
    assert gaps == sorted(gaps)


def test_usual_repairs_follow_socket_and_age():
    parts = {
        "U1": Part("U1", "logic", {}, socketed=True), "C1": Part("C1", "electrolytic", {}, original=False),
        "C2": Part("C2", "electrolytic", {}),
    }  # fmt: skip
    repairs = repairs_of(Board("test", parts=parts))
    assert [repairs[ref].grade for ref in ("U1", "C1", "C2")] == [3, 4, 5]
    assert repairs["U1"].cost < repairs["C1"].cost < repairs["C2"].cost


def test_candidates_carry_their_instrument():
    one = Candidate(number_test("a"), sd=0.05, width=10.0, model_sd=0.0)
    assert one.noise == pytest.approx(0.05)
    assert one.read(4.0).noise == pytest.approx(0.05)
