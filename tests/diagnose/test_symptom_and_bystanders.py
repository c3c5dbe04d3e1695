"""What follows from 'it does not work', parts that only come along, and repairs that do not earn their cost."""

import numpy as np
import pytest
from test_ask import candidate
from test_weigh import NONE

from boards import number_predict, number_read
from kilter.diagnose.ask import ask
from kilter.diagnose.cost import Bench
from kilter.diagnose.enumerate import search
from kilter.diagnose.expect import expect
from kilter.diagnose.priors import priors, with_symptom
from kilter.diagnose.settings import setting
from kilter.diagnose.stop import Repair, decide
from kilter.diagnose.ties import ties

R1, R2, C1 = ("R1", "open"), ("R2", "open"), ("C1", "leak")
SHARES = {R1: 0.05, R2: 0.05, C1: 0.1}


@pytest.mark.parametrize("chance", [0.0, 0.02, 0.5, 1.0])
def test_a_symptom_is_bayes_theorem_on_the_empty_set(chance):
    """
    Closed form: three independent parts, P(nothing wrong) = 0.95 x 0.95 x 0.9; the symptom comes with `chance` then and
    always with a fault. 'Not in the model' keeps its share.
    """
    found = with_symptom(priors(SHARES, outside=0.04), chance)
    nothing = 0.95 * 0.95 * 0.9
    seen = 1.0 - nothing * (1.0 - chance)
    sets = [NONE, frozenset({R1}), frozenset({R1, C1}), frozenset({R1, R2, C1})]
    by_hand = [nothing * chance, 0.05 * 0.95 * 0.9, 0.05 * 0.95 * 0.1, 0.05 * 0.05 * 0.1]
    assert np.exp(found.of(sets)) == pytest.approx(np.array(by_hand) / seen * 0.96, abs=1e-12)
    assert np.exp(found.log_mass(3)).sum() == pytest.approx(0.96)
    assert np.exp(found.log_mass(3))[0] == pytest.approx(nothing * chance / seen * 0.96, abs=1e-12)
    assert np.exp(found.log_outside) == pytest.approx(0.04)


MEANS = {
    NONE: [5.0, 3.0],
    frozenset({R1}): [0.0, 3.0],
    frozenset({R2}): [0.0, 3.0],
    frozenset({C1}): [5.0, 3.0],
    frozenset({R1, R2}): [0.0, 3.0],
    frozenset({R1, C1}): [0.0, 3.0],
    frozenset({R2, C1}): [0.0, 3.0],
    frozenset({R1, R2, C1}): [0.0, 3.0],
}


def weighed(evidence, shares=SHARES, means=MEANS):
    predict = number_predict(("a", "b"), means)
    found = search(predict, priors(shares), evidence)
    return found, expect(found, predict, evidence, [candidate("b")])


def test_a_part_that_explains_nothing_is_no_alternative_to_those_that_do():
    """R1 or R2 explains the reading; C1 is as likely faulty as before and looks the same either way."""
    found, expected = weighed([number_read("a", 0.0)])
    assert found.parts()["C1"] >= setting("leader")
    assert ties(found, expected) == (("R1", "R2"),)


def test_parts_that_alone_would_explain_as_little_are_a_tie():
    found, expected = weighed([number_read("a", 5.0)], {C1: 0.1, ("C2", "leak"): 0.1}, {
        NONE: [5.0, 3.0], frozenset({C1}): [5.0, 3.0], frozenset({("C2", "leak")}): [5.0, 3.0],
        frozenset({C1, ("C2", "leak")}): [5.0, 3.0],
    })  # fmt: skip
    assert ties(found, expected) == (("C1", "C2"),)


def test_a_cheap_innocent_part_is_not_replaced_to_see_what_happens():
    """Six parts share the blame, a test tells them apart, and one of them is cheap to pull: not reason enough."""
    faults = [(f"U{n}", "dead") for n in range(6)]
    shares = dict.fromkeys(faults, 0.05)
    means = {NONE: [5.0, 3.0]} | {frozenset({fault}): [5.0, 0.5 * n] for n, fault in enumerate(faults)}
    means |= {frozenset({a, b}): [5.0, 0.0] for a in faults for b in faults if a != b}
    means |= {frozenset({a, b, c}): [5.0, 0.0] for a in faults for b in faults for c in faults if len({a, b, c}) == 3}
    evidence = [number_read("a", 5.0)]
    found, expected = weighed(evidence, shares, means)
    repairs = {part: Repair(25, 5) for part, _ in faults} | {"U0": Repair(5, 3)}
    advice = ask(found, expected, evidence, Bench())
    decision = decide(found, expected, advice, repairs, ties(found, expected))
    assert decision.action == "test"


def test_a_cheap_part_is_replaced_where_it_is_probably_the_one():
    means = {NONE: [5.0, 3.0], frozenset({R1}): [0.0, 3.0]}
    evidence = [number_read("a", 0.0)]
    found, expected = weighed(evidence, {R1: 0.05}, means)
    decision = decide(found, expected, ask(found, expected, evidence, Bench()), {"R1": Repair(5, 3)})
    assert (decision.action, decision.parts) == ("act", ("R1",))


def test_a_likely_part_waits_for_a_test_that_tells_more_and_not_for_one_that_does_not():
    """R1 against R2 at 9 to 1: where b tells them apart it is asked first, where it does not both are replaced."""
    shares = {R1: 0.18, R2: 0.02}
    broken = (frozenset({R1}), frozenset({R2}), frozenset({R1, R2}))
    alike = {NONE: [5.0, 3.0]} | {one: [0.0, 3.0] for one in broken}
    differs = alike | {frozenset({R2}): [0.0, 1.0]}
    actions = []
    for means in (alike, differs):
        evidence = [number_read("a", 0.0)]
        found, expected = weighed(evidence, shares, means)
        repairs = {"R1": Repair(25, 4), "R2": Repair(25, 4)}
        decision = decide(found, expected, ask(found, expected, evidence, Bench()), repairs)
        actions.append((decision.action, decision.fixed >= setting("sure_enough")))
    assert actions == [("act", True), ("test", False)]
