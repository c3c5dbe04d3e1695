"""
Rank the cures by expected loss, beside leaving the object and doing one more test first.

The beliefs are those of the diagnosis, with its fault sets reduced to what the cures can remove: a set that holds a
part for which no cure is weighed cannot be cured here and counts as 'something else', as does 'not in the model'.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.diagnose.ask import Advice
from kilter.diagnose.evidence import key_of
from kilter.diagnose.expect import Expected
from kilter.diagnose.outcomes import outcome_shares
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.settings import setting
from kilter.planning.numbers import number
from kilter.planning.options.cure import Cure
from kilter.planning.options.tree import SOMETHING_ELSE, Faults, Tree
from kilter.simulate.prediction import Floats


@dataclass(frozen=True)
class Choice:
    """
    One cure with what it is worth now.

    Args:
        cure: What is done.
        loss: Expected loss, with the best that can be done after it. [min]
        fixed: Chance that the object works after it.
        helps: Chance that it removes a fault, whether or not another one is left.
    """

    cure: Cure
    loss: float
    fixed: float
    helps: float


@dataclass(frozen=True)
class TestFirst:
    """
    One more test before anything is touched.

    Args:
        advice: The test.
        loss: Expected loss of the test and of the best that can be done once it is read. [min]
        saves: What its answer saves, its own cost left out; never less than nothing. [min]
    """

    advice: Advice
    loss: float
    saves: float


@dataclass(frozen=True)
class Ranking:
    """
    Everything that was weighed.

    Args:
        choices: Cures, the least loss first.
        leave: Loss of leaving the object as it is, for static display. [min]
        tests: Tests that may be done first, the least loss first.
        something_else: Chance that none of the cures can make it work.
        healthy: Chance that nothing is wrong.
        whole: Whether the tree of cures was worked out wholly.
    """

    choices: tuple[Choice, ...]
    leave: float
    tests: tuple[TestFirst, ...]
    something_else: float
    healthy: float
    whole: bool

    @property
    def action(self) -> str:
        """What loses least: 'cure', 'test' or 'leave'; where they are equal, the one that touches less."""
        losses = {"leave": self.leave}
        if self.tests:
            losses["test"] = self.tests[0].loss
        if self.choices:
            losses["cure"] = self.choices[0].loss
        return min(losses, key=losses.__getitem__)


def rank(
    posterior: Posterior,
    expected: Expected,
    advice: Sequence[Advice],
    cures: Sequence[Cure],
    *,
    static_loss: float | None = None,
) -> Ranking:
    """
    Weighs cures, tests and leaving.

    Args:
        posterior: What is believed now.
        expected: The mixture over the open tests.
        advice: The open tests, best first.
        cures: That may be tried.
        static_loss: Loss of an object that stays silent; None takes the setting. [min]
    """
    rows = _faults_now(posterior, expected, cures)
    beliefs: dict[Faults, float] = {}
    for faults, weight in zip(rows, expected.weights, strict=True):
        beliefs[faults] = beliefs.get(faults, 0.0) + float(weight)
    tree = Tree(
        beliefs, tuple(cures), setting("static_loss") if static_loss is None else static_loss, setting("recheck"),
        int(number("repair_options", "depth")), int(number("repair_options", "beam")),
    )  # fmt: skip
    losses, now = tree.act(tree.belief), tree.best(tree.belief)
    choices = [
        Choice(cure, float(losses[a]), tree.fixed(tree.belief, a), tree.helps(tree.belief, a))
        for a, cure in enumerate(cures)
    ]
    best = min([now, *losses.tolist()])
    tests = [
        _test_first(tree, expected, one, rows, best) for one in advice[: int(number("repair_options", "tests_weighed"))]
    ]
    return Ranking(
        choices=tuple(sorted(choices, key=lambda one: (one.loss, one.cure.grade, one.cure.name))),
        leave=tree.leave(tree.belief),
        tests=tuple(sorted(tests, key=lambda one: (one.loss, key_of(one.advice.test)))),
        something_else=beliefs.get(SOMETHING_ELSE, 0.0),
        healthy=beliefs.get(frozenset(), 0.0),
        whole=len(cures) <= tree.beam,
    )


def _faults_now(posterior: Posterior, expected: Expected, cures: Sequence[Cure]) -> list[Faults]:
    """The state of the tree that stands for each row of the mixture; its last row is 'not in the model'."""
    treated = {part for cure in cures for part in cure.parts}
    weights: dict[Faults, float] = {}
    now = []
    for one, weight in zip(expected.hypotheses, expected.weights, strict=False):
        faults = posterior.faults_now(one)
        reduced = faults if all(part in treated for part, _ in faults) else SOMETHING_ELSE
        now.append(reduced)
        weights[reduced] = weights.get(reduced, 0.0) + float(weight)
    order = sorted(weights, key=lambda faults: (-weights[faults], sorted(faults)))
    kept = {*order[: int(number("repair_options", "most_sets"))], frozenset()}
    return [faults if faults in kept else SOMETHING_ELSE for faults in now] + [SOMETHING_ELSE]


def _test_first(tree: Tree, expected: Expected, advice: Advice, rows: Sequence[Faults], best: float) -> TestFirst:
    place = [key_of(one.test) for one in expected.candidates].index(key_of(advice.test))
    shares = outcome_shares(expected, place, int(number("repair_options", "outcomes")))
    after = tree.after_test(tree.belief, _by_state(tree, expected.weights, rows, shares))
    return TestFirst(advice, advice.cost + after, max(0.0, best - after))


def _by_state(tree: Tree, weights: Floats, rows: Sequence[Faults], shares: Floats) -> Floats:
    """Outcome chances of each state of the tree: those of its rows, by their weights. Shape (S, K)"""
    places: Mapping[Faults, int] = {one: at for at, one in enumerate(tree.states)}
    table, total = np.zeros((len(tree.states), shares.shape[1])), np.zeros(len(tree.states))
    for faults, weight, share in zip(rows, weights, shares, strict=True):
        table[places[faults]] += weight * share
        total[places[faults]] += weight
    seen = total > 0
    table[seen] /= total[seen][:, None]
    table[~seen] = 1.0 / shares.shape[1]
    return table
