"""
Growing visits against Bayes' rule by brute force: every set of at most two faults, and every set of wrong readings.

The diagnoser remembers what it solved, searches best first and sums outliers in closed form; here everything is done
anew after each reading, one fault set at a time, and the Gaussian densities come from scipy. Both take the predictions
of one fault set from the same predictor, which is not what is tested. The rest is the definition in
kilter.diagnose.weigh: readings of one state are jointly Gaussian, each is 'anything' with the chance that it is gross
or unknown, states multiply.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from itertools import combinations, product
from math import exp, log, log10
from typing import Any

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from kilter.circuit.board import Board, Element, Point, State
from kilter.diagnose.enumerate import Limits
from kilter.diagnose.evidence import Evidence
from kilter.diagnose.priors import Priors, priors_of
from kilter.diagnose.settings import setting
from kilter.records.part import Part
from kilter.records.reading import Reading
from kilter.services.diagnose import Diagnoser, Diagnosis
from kilter.services.evidence_of import evidence_of
from kilter.services.visit_states import follow
from kilter.simulate.chain import usual_chain
from kilter.simulate.prediction import Fault, Hypothesis, Prediction

MOST = 2
AGREE = 1e-9
"""Rounding of sums over some hundred sets; single-precision volts are the same on both sides."""
SEARCHES = {
    "all at once": Limits(max_faults=MOST, complete_limit=10**6, pruned_mass=0.0, asker_hypotheses=10**6),
    "best first": Limits(max_faults=MOST, complete_limit=0, work_limit=10**6, batch=37, unvisited_tolerance=0.0),
    "best first, stopped early": Limits(max_faults=MOST, complete_limit=0, work_limit=90, batch=20),
}
VISITS = {
    "a divider that reads low": [
        ("A", "voltage", 3.1, 0.02, "on"), ("B", "voltage", 1.5, 0.02, "on"), ("A", "resistance", 980.0, 10.0, "off"),
        ("TOP", "voltage", 8.97, 0.02, "on"),
    ],
    "two faults, one of them hidden": [
        ("A", "voltage", 8.9, 0.02, "on"), ("B", "voltage", 0.0, 0.02, "on"), ("B", "resistance", 995.0, 10.0, "off"),
    ],
    "a slipped probe": [
        ("A", "voltage", 4.35, 0.02, "on"), ("B", "voltage", 8.2, 0.02, "on"), ("TOP", "voltage", 9.01, 0.02, "on"),
    ],
    "nothing wrong": [("A", "voltage", 4.09, 0.02, "on"), ("A", "resistance", 667.0, 10.0, "off")],
}  # fmt: skip


def _board() -> Board:
    """Nine volts, two dividers one behind the other."""
    wired = {"R1": ("top", "a", 1e3), "R2": ("a", "0", 1e3), "R3": ("a", "b", 1e3), "R4": ("b", "0", 4e3)}
    elements = [Element("V1", "V", ("top", "0"), 9.0)]
    elements += [Element(ref, "R", (one, other), ohm, ref) for ref, (one, other, ohm) in wired.items()]
    parts = {
        ref: Part(ref, "resistor", {"1": one, "2": other}, number=ohm) for ref, (one, other, ohm) in wired.items()
    }
    return Board(
        "two dividers",
        parts=parts,
        elements={one.name: one for one in elements},
        points={name: Point(name, name.lower()) for name in ("TOP", "A", "B")},
        states={"off": State("off", powered=False), "on": State("on", powered=True)},
    )


def _readings(lines: Sequence[tuple[str, str, float, float, str]]) -> list[Reading]:
    return [
        Reading(point, key, value=value, uncertainty=sd, state=state, instrument="dmm")
        for point, key, value, sd, state in lines
    ]


class _BruteForce:
    """Everything worked out anew for one list of readings."""

    def __init__(self, board: Board, readings: Sequence[Reading]) -> None:
        visit = follow(board, readings)
        self.evidence = [evidence_of(visit.board, one) for one in visit.readings]
        self.priors = priors_of(visit.board)
        chain, self.states = usual_chain(board), sorted({one.test.state for one in self.evidence})
        self.sets = [frozenset[Fault]()] + [
            frozenset(chosen)
            for size in range(1, MOST + 1)
            for groups in combinations(self.priors.modes().values(), size)
            for chosen in product(*groups)
        ]
        self.predicted = {
            state: chain.predict(visit.board, visit.board.states[state], self.sets, self._tests(state))
            for state in self.states
        }

    def _in(self, state: str) -> list[Evidence]:
        return [one for one in self.evidence if one.test.state == state]

    def _tests(self, state: str) -> list[Any]:
        return [one.test for one in self._in(state)]

    @cached_property
    def log_weights(self) -> dict[Hypothesis, float]:
        """Log prior and log likelihood of every set, added up."""
        return {
            one: _log_prior(self.priors, one)
            + sum(_log_state(self._in(state), self.predicted[state], row) for state in self.states)
            for row, one in enumerate(self.sets)
        }

    @cached_property
    def log_outside(self) -> float:
        """'Not in the model': each reading by itself is as on a healthy board, with a set chance, else anything."""
        like, total = setting("healthy_like"), self.priors.log_outside
        for state in self.states:
            for place, one in enumerate(self._in(state)):
                alone = exp(_log_alone(one, self.predicted[state], 0, place))
                total += log(like * alone + (1.0 - like) / one.width)
        return total

    def reason(self, part: str, place: int, weights: dict[Hypothesis, float]) -> float:
        """log10 of the density of a reading with the faults of a part over without, over its twelve likeliest sets."""
        one = self.evidence[place]
        column = self._in(one.test.state).index(one)
        prediction = self.predicted[one.test.state]

        def density(hypothesis: Hypothesis) -> float:
            return exp(_log_alone(one, prediction, self.sets.index(hypothesis), column))

        held = [h for h in sorted(weights, key=weights.__getitem__, reverse=True) if any(ref == part for ref, _ in h)]
        held = held[:12]
        spared = [frozenset(fault for fault in h if fault[0] != part) for h in held]
        total = sum(weights[h] for h in held)
        with_it = sum(weights[h] * density(h) for h in held) / total
        without = sum(weights[h] * density(less) for h, less in zip(held, spared, strict=True)) / total
        return log10(with_it / without)


def _log_prior(priors: Priors, hypothesis: Hypothesis) -> float:
    return priors.log_healthy + sum(priors.log_odds[fault] for fault in hypothesis)


def _anything(one: Evidence, prediction: Prediction, row: int, column: int) -> float:
    return 1.0 - (1.0 - one.gross) * (1.0 - float(prediction.unknown[row, column]))


def _log_alone(one: Evidence, prediction: Prediction, row: int, column: int) -> float:
    assert prediction.draws is not None
    spread = float(np.std(prediction.draws[row, :, column], ddof=1))
    anything = _anything(one, prediction, row, column)
    inside = _density([one.value - prediction.mean[row, column]], [[spread**2 + one.noise**2]])
    return log((1.0 - anything) * inside + anything / one.width)


def _log_state(evidence: Sequence[Evidence], prediction: Prediction, row: int) -> float:
    """
    Log density of the readings of one state: a sum over which of them are 'anything'.

    A prediction that is mostly unknown is weighed apart; see kilter.diagnose.weigh.
    """
    assert prediction.draws is not None
    count = len(evidence)
    anything = [_anything(one, prediction, row, column) for column, one in enumerate(evidence)]
    vague = [a - one.gross >= setting("unknown_apart") * (1.0 - one.gross)
             for a, one in zip(anything, evidence, strict=True)]  # fmt: skip
    draws, pseudo = prediction.draws[row], setting("covariance_pseudo_draws")
    if count == 1:
        return _log_alone(evidence[0], prediction, row, 0)
    matrix = np.cov(draws, rowvar=False, ddof=1) * len(draws) / (len(draws) + pseudo)
    for column, one in enumerate(evidence):
        matrix[column, column] = np.var(draws[:, column], ddof=1) + one.noise**2
    together, total = [column for column in range(count) if not vague[column]], 0.0
    for outliers in product((False, True), repeat=len(together)):
        good = [column for column, out in zip(together, outliers, strict=True) if not out]
        term = 1.0
        for column, out in zip(together, outliers, strict=True):
            term *= anything[column] / evidence[column].width if out else 1.0 - anything[column]
        apart = [evidence[column].value - prediction.mean[row, column] for column in good]
        total += term * (_density(apart, matrix[np.ix_(good, good)]) if good else 1.0)
    alone = sum(_log_alone(one, prediction, row, column) for column, one in enumerate(evidence) if vague[column])
    return log(total) + alone


def _density(apart: Any, matrix: Any) -> float:
    return float(multivariate_normal(np.zeros(len(apart)), np.asarray(matrix)).pdf(apart))


@pytest.fixture(scope="module", params=VISITS, ids=list(VISITS))
def visit(request: pytest.FixtureRequest) -> tuple[list[Reading], list[_BruteForce]]:
    """The readings, and after each of them the answer by brute force."""
    readings, board = _readings(VISITS[request.param]), _board()
    return readings, [_BruteForce(board, readings[:count]) for count in range(1, len(readings) + 1)]


@pytest.fixture(scope="module", params=SEARCHES, ids=list(SEARCHES))
def limits(request: pytest.FixtureRequest) -> Limits:
    """How the search goes."""
    return SEARCHES[request.param]


@pytest.fixture(scope="module")
def grown(limits: Limits, visit: tuple[list[Reading], list[_BruteForce]]) -> list[Diagnosis]:
    """After each reading, what one diagnoser says that saw the visit grow."""
    weigher = Diagnoser(_board(), limits=limits, power_checks=True)
    return [weigher.diagnose(visit[0][:count]) for count in range(1, len(visit[0]) + 1)]


class TestGrowingVisit:
    def test_every_probability(self, visit: tuple[list[Reading], list[_BruteForce]], grown: list[Diagnosis]) -> None:
        """Weights of the visited sets and of 'not in the model', scaled to add up to one over what was visited."""
        for found, plain in zip(grown, visit[1], strict=True):
            logs = plain.log_weights
            wanted = np.array([logs[one] for one in found.posterior.hypotheses] + [plain.log_outside])
            wanted = np.exp(wanted - np.logaddexp.reduce(wanted))
            assert np.abs(found.posterior.weights - wanted[:-1]).max() < AGREE
            assert abs(found.posterior.not_in_model - wanted[-1]) < AGREE

    def test_every_suspect(self, visit: tuple[list[Reading], list[_BruteForce]], grown: list[Diagnosis]) -> None:
        """A part's probability is that of all sets with a fault of it; suspects come likeliest first."""
        for found, plain in zip(grown, visit[1], strict=True):
            logs = plain.log_weights
            shares = {one: exp(logs[one]) for one in found.posterior.hypotheses}
            total = sum(shares.values()) + exp(plain.log_outside)
            for suspect in found.suspects:
                own = sum(share for one, share in shares.items() if any(ref == suspect.part for ref, _ in one))
                assert suspect.probability == pytest.approx(own / total, abs=AGREE)
            order = [one.probability for one in found.suspects]
            assert order == sorted(order, reverse=True)

    def test_why_the_first_suspect(
        self, visit: tuple[list[Reading], list[_BruteForce]], grown: list[Diagnosis]
    ) -> None:
        """The weight of every reading for the leading suspect, by its definition in kilter.diagnose.explain."""
        found, plain = grown[-1], visit[1][-1]
        weights = dict(zip(found.posterior.hypotheses, found.posterior.weights.tolist(), strict=True))
        for one in found.suspects[0].because:
            assert one.weight == pytest.approx(plain.reason(found.suspects[0].part, one.reading, weights), abs=1e-6)

    def test_advice_does_not_depend_on_what_is_remembered(
        self, limits: Limits, visit: tuple[list[Reading], list[_BruteForce]], grown: list[Diagnosis]
    ) -> None:
        """A diagnoser that sees all readings at once says the same as one that saw them come."""
        now, again = grown[-1], Diagnoser(_board(), limits=limits, power_checks=True).diagnose(visit[0])
        assert [one.test for one in again.advice] == [one.test for one in now.advice]
        assert [one.bits for one in again.advice] == pytest.approx([one.bits for one in now.advice], abs=AGREE)
        assert (again.ties, again.decision.action, again.decision.parts) == (
            now.ties, now.decision.action, now.decision.parts
        )  # fmt: skip
