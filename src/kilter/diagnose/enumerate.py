"""
Best-first search over fault sets.

The empty set and all single faults are visited first, then supersets of visited sets in the order of
kilter.diagnose.frontier. Spaces up to a limit are visited completely.

What was not visited is bounded from above: no hypothesis can give a reading more density than the largest that any
visited hypothesis could have given it at its very best. The product of these over all readings, times the prior mass
not visited, bounds the unvisited share. The assumption is that no unvisited set predicts any reading more sharply
than every visited one; where all readings are words the bound needs no assumption. The bound is often far too
cautious, so an estimate stands beside it: the frontier's own scores, added up.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, product

import numpy as np

from kilter.diagnose.evidence import Evidence
from kilter.diagnose.frontier import Frontier
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.priors import Priors
from kilter.diagnose.rows import Predict
from kilter.diagnose.settings import setting
from kilter.diagnose.weigh import Weighed, log_outside, some, together, weigh
from kilter.simulate.prediction import Fault, Floats, Hypothesis

NOTHING_WRONG: Hypothesis = frozenset()
AT_ONCE = 4096
"""Hypotheses predicted in one call at most; it bounds memory, not the search."""
ROUNDING = 1e-12
"""Relative size of prior mass left over that is only rounding."""


@dataclass(frozen=True)
class Limits:
    """How far the search goes, and how much of what it found the asker works on: settings of the same names."""

    max_faults: int = field(default_factory=lambda: int(setting("max_faults")))
    complete_limit: int = field(default_factory=lambda: int(setting("complete_limit")))
    work_limit: int = field(default_factory=lambda: int(setting("work_limit")))
    batch: int = field(default_factory=lambda: int(setting("batch")))
    unvisited_tolerance: float = field(default_factory=lambda: setting("unvisited_tolerance"))
    pruned_mass: float = field(default_factory=lambda: setting("pruned_mass"))
    asker_hypotheses: int = field(default_factory=lambda: int(setting("asker_hypotheses")))


def quick_limits() -> Limits:
    """Limits for a board with a circuit, where every hypothesis costs a circuit to solve for every test."""
    return Limits(
        work_limit=int(setting("quick_work")),
        batch=int(setting("quick_batch")),
        pruned_mass=setting("quick_pruned"),
        asker_hypotheses=int(setting("quick_hypotheses")),
    )


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
        self.log_prior = np.zeros(0)
        self.pieces: list[Weighed] = []
        self.log_likelihood = np.zeros(0)
        self.outside: tuple[float, Floats] = (0.0, np.zeros(0))
        self.log_left = -np.inf

    def add(self, new: list[Hypothesis]) -> None:
        """Predicts and weighs; the very first hypothesis must be 'nothing wrong'."""
        for start in range(0, len(new), AT_ONCE):
            batch = new[start : start + AT_ONCE]
            predictions = self.predict(batch)
            if not self.hypotheses:
                self.outside = log_outside(predictions, self.evidence)
            piece = weigh(predictions, self.evidence)
            self.pieces.append(piece)
            self.hypotheses += batch
            self.log_prior = np.append(self.log_prior, self.priors.of(batch))
            self.log_likelihood = np.append(self.log_likelihood, piece.log_likelihood)

    def weighed(self, start: int) -> Weighed:
        """All that was weighed from this hypothesis on."""
        sizes = np.cumsum([0] + [len(piece.log_likelihood) for piece in self.pieces])
        return together(self.pieces[int(np.searchsorted(sizes, start)) :])

    def unvisited(self) -> tuple[float, float]:
        """Upper bound and estimate of the unvisited share of all sets up to the largest size."""
        sizes = np.array([len(one) for one in self.hypotheses])
        log_visited = float(np.logaddexp.reduce(self.log_prior + self.log_likelihood))
        mass = np.exp(self.priors.log_mass(self.limits.max_faults)[:-1])
        seen = np.bincount(sizes, np.exp(self.log_prior), minlength=len(mass))[: len(mass)]
        left = float(np.where(mass - seen > ROUNDING * mass, mass - seen, 0.0).sum())
        if left <= 0.0:
            return 0.0, 0.0
        bound = self._log_peak() + float(np.log(left))
        return _share(bound, log_visited), _share(min(bound, self.log_left), log_visited)

    def _log_peak(self) -> float:
        return float(np.max([piece.log_peak.max(axis=0) for piece in self.pieces], axis=0).sum())

    def posterior(self, renewed: frozenset[str]) -> Posterior:
        """The result, likeliest first; equals in the order of prior, then of their faults' names."""
        bound, estimate = self.unvisited()
        weighed = self.weighed(0)
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
            gross=weighed.gross[order],
            log_single=weighed.log_single[order],
            log_outside=self.outside[1],
            renewed=renewed,
        )

    def _prior_beyond(self) -> float:
        mass = np.exp(self.priors.log_mass(self.limits.max_faults))
        return float(mass[-1] / mass.sum())


def _go_on(visit: _Visit, priors: Priors, limits: Limits) -> None:
    row = {one: h for h, one in enumerate(visit.hypotheses)}
    faults = priors.faults()
    first = visit.weighed(0)
    singles = some(first, [row[frozenset({fault})] for fault in faults])
    log_good = np.log1p(-np.array([one.gross for one in visit.evidence]))
    frontier = Frontier(faults, priors, limits.max_faults, singles, first.deviation[row[NOTHING_WRONG]], log_good)
    grown = 0
    while True:
        frontier.grow(visit.hypotheses[grown:], visit.log_prior[grown:], visit.weighed(grown))
        grown = len(visit.hypotheses)
        visit.log_left = frontier.log_left()
        room = min(limits.batch, limits.work_limit - grown)
        if room <= 0 or visit.unvisited()[1] < limits.unvisited_tolerance:
            return
        batch = frontier.best(room)
        if not batch:
            return
        visit.add(batch)


def _all_sets(priors: Priors, most: int) -> Iterator[Hypothesis]:
    groups: list[tuple[Fault, ...]] = list(priors.modes().values())
    for size in range(most + 1):
        for chosen in combinations(groups, size):
            yield from (frozenset(faults) for faults in product(*chosen))


def _share(log_part: float, log_rest: float) -> float:
    return float(1.0 / (1.0 + np.exp(np.clip(log_rest - log_part, -700.0, 700.0))))
