"""
Best-first search over fault sets.

The empty set and all single faults are visited first, then supersets of the sets that weigh most: a child's score is
its own prior with its parent's likelihood, as if the added fault changed no reading. Children are predicted in
batches.

What was not visited is bounded from above: no hypothesis can give a reading more density than the largest that any
visited hypothesis could have given it at its very best. The product of these over all readings, times the prior mass
not visited, bounds the unvisited share. The assumption is that no unvisited set predicts any reading more sharply
than every visited one; where all readings are words the bound needs no assumption. The bound is often far too
cautious, so an estimate stands beside it: unvisited sets of a size are taken to be, on average, as likely as visited
ones of that size. As the search visits the promising ones first, that too tends to be cautious.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import combinations, product

import numpy as np

from kilter.diagnose.evidence import Evidence
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.priors import Priors
from kilter.diagnose.rows import Predict
from kilter.diagnose.settings import setting
from kilter.diagnose.weigh import Weighed, log_outside, weigh
from kilter.simulate.prediction import Fault, Floats, Hypothesis

NOTHING_WRONG: Hypothesis = frozenset()


@dataclass(frozen=True)
class Limits:
    """How far the search goes; None takes the setting of the same name."""

    max_faults: int = field(default_factory=lambda: int(setting("max_faults")))
    complete_limit: int = field(default_factory=lambda: int(setting("complete_limit")))
    work_limit: int = field(default_factory=lambda: int(setting("work_limit")))
    batch: int = field(default_factory=lambda: int(setting("batch")))
    unvisited_tolerance: float = field(default_factory=lambda: setting("unvisited_tolerance"))


def search(
    predict: Predict,
    priors: Priors,
    evidence: Sequence[Evidence],
    *,
    limits: Limits | None = None,
    renewed: frozenset[str] = frozenset(),
) -> Posterior:
    """
    Weighs fault sets until what is left out hardly matters or the work limit is reached.

    Args:
        predict: All states' predictions for a list of hypotheses.
        priors: Odds of every fault.
        evidence: The readings, in any order; the result does not depend on it.
        limits: How far to go.
        renewed: Parts replaced by good ones in the course of the visit.
    """
    limits = limits or Limits()
    visit = _Visit(predict, priors, evidence, limits)
    if priors.count(limits.max_faults) <= limits.complete_limit:
        visit.add(list(_all_sets(priors, limits.max_faults)))
    else:
        visit.add([NOTHING_WRONG, *(frozenset({fault}) for fault in priors.faults())])
        _go_on(visit, priors, limits)
    return visit.posterior(renewed)


class _Visit:
    """The sets visited so far with their weights."""

    def __init__(self, predict: Predict, priors: Priors, evidence: Sequence[Evidence], limits: Limits) -> None:
        self.predict, self.priors, self.evidence, self.limits = predict, priors, evidence, limits
        self.hypotheses: list[Hypothesis] = []
        self.known: set[Hypothesis] = set()
        self.log_prior = np.zeros(0)
        self.pieces: list[Weighed] = []
        self.log_likelihood = np.zeros(0)
        self.outside: tuple[float, Floats] = (0.0, np.zeros(0))

    def add(self, new: list[Hypothesis]) -> None:
        """Predicts and weighs; the very first hypothesis must be 'nothing wrong'."""
        for start in range(0, len(new), self.limits.batch):
            batch = new[start : start + self.limits.batch]
            predictions = self.predict(batch)
            if not self.hypotheses:
                self.outside = log_outside(predictions, self.evidence)
            piece = weigh(predictions, self.evidence)
            self.pieces.append(piece)
            self.hypotheses += batch
            self.known.update(batch)
            self.log_prior = np.append(self.log_prior, self.priors.of(batch))
            self.log_likelihood = np.append(self.log_likelihood, piece.log_likelihood)

    def unvisited(self) -> tuple[float, float]:
        """Upper bound and estimate of the unvisited share of all sets up to the largest size."""
        sizes = np.array([len(one) for one in self.hypotheses])
        top = float((self.log_prior + self.log_likelihood).max())
        visited = np.exp(self.log_prior + self.log_likelihood - top)
        mass = np.exp(self.priors.log_mass(self.limits.max_faults)[:-1])
        seen = np.bincount(sizes, np.exp(self.log_prior), minlength=len(mass))[: len(mass)]
        left = np.maximum(mass - seen, 0.0) * (mass - seen > 1e-12 * mass)
        if not left.any():
            return 0.0, 0.0
        bound = _capped_exp(self._log_peak() - top) * left.sum()
        by_size = np.bincount(sizes, visited, minlength=len(mass))[: len(mass)]
        mean = np.divide(by_size, seen, out=np.full(len(mass), -1.0), where=seen > 0)
        for size in range(1, len(mass)):  # a size not reached yet is judged by the one below
            mean[size] = mean[size - 1] if mean[size] < 0 else mean[size]
        estimate = float((left * np.maximum(mean, 0.0)).sum())
        total = float(visited.sum())
        return bound / (bound + total), estimate / (estimate + total)

    def _log_peak(self) -> float:
        return float(np.max([piece.log_peak.max(axis=0) for piece in self.pieces], axis=0).sum())

    def posterior(self, renewed: frozenset[str]) -> Posterior:
        """The result, likeliest first; equals in the order of prior, then of their faults' names."""
        bound, estimate = self.unvisited()
        log_weight = self.log_prior + self.log_likelihood
        names = [sorted(one) for one in self.hypotheses]
        order = np.array(sorted(range(len(names)), key=lambda h: (-log_weight[h], -self.log_prior[h], names[h])))
        outside = self.priors.log_outside + self.outside[0]
        total = np.logaddexp.reduce(np.append(log_weight, outside))
        return Posterior(
            hypotheses=tuple(self.hypotheses[h] for h in order),
            weights=np.exp(log_weight[order] - total),
            not_in_model=float(np.exp(outside - total)),
            visited_mass=1.0 - bound,
            visited_estimate=1.0 - estimate,
            prior_beyond=self._prior_beyond(),
            log_prior=self.log_prior[order],
            log_likelihood=self.log_likelihood[order],
            gross=np.concatenate([piece.gross for piece in self.pieces])[order],
            log_single=np.concatenate([piece.log_single for piece in self.pieces])[order],
            log_outside=self.outside[1],
            renewed=renewed,
        )

    def _prior_beyond(self) -> float:
        mass = np.exp(self.priors.log_mass(self.limits.max_faults))
        return float(mass[-1] / mass.sum())


def _go_on(visit: _Visit, priors: Priors, limits: Limits) -> None:
    frontier = _Frontier(priors, limits.max_faults)
    grown = 0
    while len(visit.hypotheses) < limits.work_limit:
        frontier.grow(visit.hypotheses[grown:], visit.log_prior[grown:], visit.log_likelihood[grown:])
        grown = len(visit.hypotheses)
        room = min(limits.batch, limits.work_limit - grown)
        batch = frontier.best(room, visit.known)
        if not batch or visit.unvisited()[1] < limits.unvisited_tolerance:
            return
        visit.add(batch)


class _Frontier:
    """A heap of parents, each with the place of its next child in the list of faults, likeliest first."""

    def __init__(self, priors: Priors, max_faults: int) -> None:
        self.faults = priors.faults()
        self.log_odds = [priors.log_odds[fault] for fault in self.faults]
        self.max_faults = max_faults
        self.heap: list[tuple[float, int, int, Hypothesis, float]] = []
        self.parents = 0

    def grow(self, parents: Sequence[Hypothesis], log_prior: Floats, log_likelihood: Floats) -> None:
        """Makes visited sets into parents."""
        for parent, weight in zip(parents, log_prior + log_likelihood, strict=True):
            self.parents += 1
            if 0 < len(parent) < self.max_faults:
                self._push(parent, float(weight), 0, self.parents)

    def _push(self, parent: Hypothesis, weight: float, child: int, parent_number: int) -> None:
        if child < len(self.faults):
            heappush(self.heap, (-(weight + self.log_odds[child]), parent_number, child, parent, weight))

    def best(self, room: int, known: set[Hypothesis]) -> list[Hypothesis]:
        """The most promising sets that were not visited."""
        chosen: dict[Hypothesis, None] = {}
        while self.heap and len(chosen) < room:
            _, number, child, parent, weight = heappop(self.heap)
            self._push(parent, weight, child + 1, number)
            fault = self.faults[child]
            if all(fault[0] != part for part, _ in parent):
                grown = parent | {fault}
                if grown not in known:
                    chosen[grown] = None
        return list(chosen)


def _all_sets(priors: Priors, most: int) -> Iterator[Hypothesis]:
    groups: list[tuple[Fault, ...]] = list(priors.modes().values())
    for size in range(most + 1):
        for chosen in combinations(groups, size):
            yield from (frozenset(faults) for faults in product(*chosen))


def _capped_exp(value: float) -> float:
    return float(np.exp(min(value, 700.0)))
