"""Objects with noisy readings, weighed: how often the true part comes first, and which parts cannot be told apart."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations

import numpy as np
from state_variable import HERTZ, NODES, OUTPUTS, Object, built, filter_board, published_faults

from kilter.circuit.board import Board
from kilter.diagnose.enumerate import Limits, search
from kilter.diagnose.evidence import Evidence
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.priors import Priors, priors_of
from kilter.diagnose.rows import Remembered
from kilter.measure.instruments import instrument
from kilter.measure.scales import from_scale, scaled_uncertainty
from kilter.parts.kinds import modes_of
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.evidence_of import evidence_of, make_test
from kilter.simulate.chain import usual_chain
from kilter.simulate.ngspice import NgspiceWorker
from kilter.simulate.prediction import Fault, Floats, Hypothesis, Prediction

SAMPLES = 40
TIED = 0.1
"""Parts with at least this share of the leader's probability count as tied with it: odds of ten. (judgement)"""

SEPARATION = 2.0
"""
Two faults further apart than this, in standard deviations of their joint spread and noise along the line that joins
them, are confused with a chance of 16 % at most (normal distribution at half the distance).
"""

POINTS: Mapping[str, tuple[str, ...]] = {"outputs": OUTPUTS, "all nodes": NODES}


@dataclass(frozen=True)
class Bench:
    """
    What is read and how well.

    Args:
        points: Key into POINTS.
        fine: Signals read to 1 % + 0.5 mV, else as an oscilloscope of the 3 % class does; volts by a hand-held meter.
        exact_model: Nothing is allowed for what a model leaves out, which is true here and never of a real object.
        drifts: The drift modes of R and C, see `filter_board`.
    """

    points: str = "outputs"
    fine: bool = False
    exact_model: bool = True
    drifts: str = "published"

    @property
    def board(self) -> Board:
        """The board as this bench knows it."""
        return filter_board(self.drifts)


@dataclass(frozen=True)
class Verdict:
    """
    What the readings of one object say.

    Args:
        truth: What was built in.
        group: Its group.
        first: The likeliest part, given that some part is faulty, which the published trials take as known.
        tied: Parts that the readings hardly tell from the first, itself included.
        true_share: Probability of the true part, given the same.
        missed: 'Nothing wrong' or 'not in the model' is likelier than any part where it is not taken as known.
    """

    truth: Fault
    group: str
    first: str
    tied: tuple[str, ...]
    true_share: float
    missed: bool

    @property
    def right(self) -> bool:
        """Whether the true part comes first."""
        return self.first == self.truth[0]

    @property
    def right_or_tied(self) -> bool:
        """Whether it is the first part or one tied with it."""
        return self.truth[0] in self.tied


def objects(
    worker: NgspiceWorker, each: int, seed: int, groups: Sequence[str] = ("hard", "soft", "op-amp")
) -> Iterator[Object]:
    """So many objects with each published fault."""
    generator = np.random.default_rng(seed)
    for group in groups:
        for fault in published_faults()[group]:
            for _ in range(each):
                yield built(worker, group, fault, generator)


def weighed(bench: Bench, objects: Sequence[Object], seed: int) -> list[Verdict]:
    """Every object's readings, drawn around the truth, weighed against every single fault."""
    generator = np.random.default_rng(seed)
    predict, priors = _predictions(bench), _priors(bench)
    limits = Limits(max_faults=1)
    return [_verdict(one, search(predict, priors, readings(bench, one, generator), limits=limits)) for one in objects]


def readings(bench: Bench, one: Object, generator: np.random.Generator) -> list[Evidence]:
    """One noisy reading of each point in each state."""
    found = []
    for state in HERTZ:
        quantity = "voltage" if state == "dc" else "signal"
        for point in POINTS[bench.points]:
            true = one.reads[point, state]
            value = true + _uncertainty(bench, quantity, true) * float(generator.standard_normal())
            reading = Reading(
                point, quantity, value, uncertainty=_uncertainty(bench, quantity, value), state=state,
                instrument="dmm" if state == "dc" else "scope",
            )  # fmt: skip
            evidence = evidence_of(bench.board, reading)
            found.append(replace(evidence, model_sd=0.0) if bench.exact_model else evidence)
    return found


def _uncertainty(bench: Bench, quantity: str, value: float) -> float:
    if bench.fine and quantity == "signal":
        return 0.01 * abs(value) + 0.5e-3
    return instrument("dmm" if quantity == "voltage" else "scope").standard_uncertainty(quantity, value)


def _verdict(one: Object, posterior: Posterior) -> Verdict:
    shares = posterior.parts()
    first, most = next(iter(shares.items()))
    tied = tuple(part for part, share in shares.items() if share >= TIED * most)
    true_share = shares[one.fault[0]] / sum(shares.values())
    missed = max(posterior.healthy, posterior.not_in_model) > most
    return Verdict(one.fault, one.group, first, tied, true_share, missed)


@cache
def _predictions(bench: Bench) -> Remembered:
    """Remembered predictions of every state's tests; what is read does not depend on how finely."""
    board = bench.board
    chain = usual_chain(board, samples=SAMPLES)

    def in_state(state: Hashable, hypotheses: Sequence[Hypothesis]) -> Prediction:
        quantity, meter = ("voltage", "dmm") if state == "dc" else ("signal", "scope")
        tests = [make_test(board, point, quantity, str(state), meter) for point in POINTS[bench.points]]
        return chain.predict(board, board.states[str(state)], hypotheses, tests)

    return Remembered(in_state, list(HERTZ))


@cache
def _priors(bench: Bench) -> Priors:
    """Odds of the faults that a circuit feels; one that it does not would stand beside 'nothing wrong' unseen."""
    board, all_of_them = bench.board, priors_of(bench.board)
    felt = {(ref, mode.key) for ref, part in board.parts.items() for mode in modes_of(part) if mode.circuit}
    return replace(all_of_them, log_odds={fault: odds for fault, odds in all_of_them.log_odds.items() if fault in felt})


def separation(bench: Bench, faults: Sequence[Fault]) -> Floats:
    """
    How far the predictions of every two faults lie apart, in standard deviations, shape (F, F).

    The Mahalanobis distance of the mean readings with the mean of both covariances, states added up.
    """
    total = np.zeros((len(faults), len(faults)))
    for prediction in _predictions(bench)([frozenset({fault}) for fault in faults]):
        assert prediction.draws is not None
        centred = prediction.draws - prediction.draws.mean(axis=1, keepdims=True)
        spread = np.einsum("hst,hsu->htu", centred, centred) / (SAMPLES - 1)
        for row in range(len(faults)):
            sd = [
                float(scaled_uncertainty(test.quantity, value, _uncertainty(bench, test.quantity, value)))
                for test, value in zip(prediction.tests, _plain(prediction.tests, prediction.mean[row]), strict=True)
            ]
            spread[row] += np.diag(np.square(sd))
        for a, b in combinations(range(len(faults)), 2):
            apart = prediction.mean[a] - prediction.mean[b]
            total[a, b] += apart @ np.linalg.solve((spread[a] + spread[b]) / 2.0, apart)
    return np.sqrt(total + total.T)


def _plain(tests: Sequence[Test], scaled: Floats) -> list[float]:
    return [float(from_scale(test.quantity, value)) for test, value in zip(tests, scaled, strict=True)]


def ambiguity_groups(faults: Sequence[Fault], apart: Floats) -> list[tuple[Fault, ...]]:
    """Groups of two or more faults of different parts that are chained by pairs closer than the separation asked."""
    leader = list(range(len(faults)))
    for a, b in combinations(range(len(faults)), 2):
        if apart[a, b] < SEPARATION and leader[a] != leader[b]:
            leader = [leader[a] if one == leader[b] else one for one in leader]
    groups = [tuple(faults[i] for i, one in enumerate(leader) if one == first) for first in dict.fromkeys(leader)]
    return [group for group in groups if len({part for part, _ in group}) > 1]
