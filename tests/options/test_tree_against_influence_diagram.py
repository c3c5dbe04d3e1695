"""
The tree of cures against a general library for influence diagrams (pyAgrum, Shafer-Shenoy on LIMIDs).

The diagram: what is wrong, whether to test, what the test says, a first cure or none, whether it works, a second cure
or none, whether it works then; every decision remembers all that was seen before. Random chances, costs and cures.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from kilter.planning.options.cure import Cure
from kilter.planning.options.tree import SOMETHING_ELSE, Tree

gum = pytest.importorskip("pyagrum", reason="pyagrum is not installed")
pytestmark = pytest.mark.filterwarnings("ignore:builtin type")  # the library's wrapper, on Python 3.11

LEFT, RECHECK, OUTCOMES, CURES = 600.0, 15.0, 3, 3
FAULTS = (("A", "dead"), ("B", "dead"), ("C", "open"))


class Case:
    """A random problem: nothing wrong, one of three faults, or something else; three cures; one test."""

    def __init__(self, seed: int) -> None:
        draw = np.random.default_rng(seed)
        self.states = [frozenset(), *(frozenset({fault}) for fault in FAULTS), SOMETHING_ELSE]
        self.belief = draw.dirichlet(np.ones(5))
        self.costs = draw.uniform(5, 250, CURES)
        self.odds = np.round(draw.uniform(0, 1, (CURES, 3)) * (draw.uniform(size=(CURES, 3)) < 0.7), 3)
        self.test_cost = float(draw.uniform(1, 60))
        self.shares = draw.dirichlet(np.full(OUTCOMES, 0.4), size=5)

    def tree(self) -> Tree:
        cures = tuple(
            Cure(f"c{c}", ("A", "B", "C"), "", dict(zip(FAULTS, self.odds[c], strict=True)), float(self.costs[c]), 0,
                 "fully", 0.0, 0.0)
            for c in range(CURES)
        )  # fmt: skip
        return Tree(dict(zip(self.states, self.belief, strict=True)), cures, LEFT, RECHECK, 2, CURES)

    def helps(self, state: int, cure: int) -> float:
        """Chance that it works after a cure; cure 0 is none."""
        if state == 0:
            return 1.0
        return float(self.odds[cure - 1, state - 1]) if cure and state <= 3 else 0.0

    def diagram(self, *, may_test: bool, first: int | None = None) -> float:
        """Least expected loss by the library; `first` forces the first cure."""
        one = gum.InfluenceDiagram()
        fault = one.addChanceNode(gum.LabelizedVariable("fault", "", 5))
        test = one.addDecisionNode(gum.LabelizedVariable("test", "", 2))
        says = one.addChanceNode(gum.LabelizedVariable("says", "", OUTCOMES + 1))
        act1, act2 = (one.addDecisionNode(gum.LabelizedVariable(name, "", CURES + 1)) for name in ("act1", "act2"))
        works1, works2 = (one.addChanceNode(gum.LabelizedVariable(name, "", 2)) for name in ("works1", "works2"))
        costs = {name: one.addUtilityNode(gum.LabelizedVariable(name, "", 1)) for name in ("ut", "u1", "u2", "ul")}
        arcs = [(fault, says), (test, says), (test, act1), (says, act1), (fault, works1), (act1, works1),
                (works1, act2), (act1, act2), (says, act2), (test, act2), (fault, works2), (works1, works2),
                (act1, works2), (act2, works2), (test, costs["ut"]), (act1, costs["u1"]), (works1, costs["u1"]),
                (act2, costs["u2"]), (works2, costs["u2"]), (works2, costs["ul"])]  # fmt: skip
        for tail, head in arcs:
            one.addArc(tail, head)
        one.cpt(fault).fillWith(self.belief.tolist())
        for state in range(5):
            one.cpt(says)[{"fault": state, "test": 0}] = [1.0] + [0.0] * OUTCOMES
            one.cpt(says)[{"fault": state, "test": 1}] = [0.0, *self.shares[state]]
            for a in range(CURES + 1):
                helped = self.helps(state, a) if a else 0.0  # whether it works is seen only by trying a cure
                one.cpt(works1)[{"fault": state, "act1": a}] = [1.0 - helped, helped]
                for b, worked in product(range(CURES + 1), range(2)):
                    then = 1.0 if worked else self.helps(state, b) if b != a else self.helps(state, 0)
                    where = {"fault": state, "act1": a, "act2": b, "works1": worked}
                    one.cpt(works2)[where] = [1.0 - then, then]
        one.utility(costs["ut"])[{"test": 0}] = 0.0
        one.utility(costs["ut"])[{"test": 1}] = -self.test_cost if may_test else -1e5
        for a, worked in product(range(CURES + 1), range(2)):
            forced = 1e5 if first is not None and a != first + 1 else 0.0
            again = 0.0 if worked or not a else RECHECK
            price = float(self.costs[a - 1]) if a else 0.0
            one.utility(costs["u1"])[{"act1": a, "works1": worked}] = -price - again - forced
            one.utility(costs["u2"])[{"act2": a, "works2": worked}] = -price - again
        one.utility(costs["ul"])[{"works2": 0}] = -LEFT
        one.utility(costs["ul"])[{"works2": 1}] = 0.0
        engine = gum.ShaferShenoyLIMIDInference(one)
        engine.addNoForgettingAssumption(["test", "act1", "act2"])
        engine.makeInference()
        return -float(engine.MEU()["mean"])


@pytest.mark.parametrize("seed", range(40))
def test_best_without_a_test(seed: int) -> None:
    case = Case(seed)
    tree = case.tree()
    assert tree.best(tree.belief) == pytest.approx(case.diagram(may_test=False), abs=1e-6)


@pytest.mark.parametrize("seed", range(40))
def test_each_first_cure(seed: int) -> None:
    case = Case(seed)
    tree = case.tree()
    wanted = [case.diagram(may_test=False, first=cure) for cure in range(CURES)]
    assert tree.act(tree.belief) == pytest.approx(wanted, abs=1e-5)


@pytest.mark.parametrize("seed", range(40))
def test_best_with_a_test(seed: int) -> None:
    case = Case(seed)
    tree = case.tree()
    place = {state: at for at, state in enumerate(case.states)}
    shares = case.shares[[place[state] for state in tree.states]]
    tested = case.test_cost + tree.after_test(tree.belief, shares)
    assert min(tested, tree.best(tree.belief)) == pytest.approx(case.diagram(may_test=True), abs=1e-5)
