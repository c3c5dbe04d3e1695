"""The posterior: every visited hypothesis with its probability, and what follows for parts and modes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.prediction import Fault, Floats, Hypothesis

Key = TypeVar("Key", bound=Any)


@dataclass(frozen=True)
class Posterior:
    """
    Probabilities after the readings. The visited hypotheses and 'not in the model' add up to one.

    Args:
        hypotheses: Visited fault sets, likeliest first; length H.
        weights: Their probabilities, shape (H,).
        not_in_model: Probability that the true fault is one that the model cannot express.
        visited_mass: Lower bound on the share that the visited sets have of all sets of up to the largest size searched
            (see kilter.diagnose.enumerate for its assumption); 1 where all were visited.
        visited_estimate: Estimate of the same share, from the scores of the sets next in line.
        prior_beyond: Prior probability of more faults than the largest set searched; nothing was visited there.
        log_prior: Log prior of each hypothesis, shape (H,).
        log_likelihood: Shape (H,).
        gross: Chance that each reading is grossly wrong given the hypothesis, shape (H, R).
        log_single: Log density of each reading alone, shape (H, R).
        log_outside: Log density of each reading if the fault is not in the model, shape (R,).
        renewed: Parts replaced by good ones since; their faults are past.
    """

    hypotheses: tuple[Hypothesis, ...]
    weights: Floats
    not_in_model: float
    visited_mass: float
    visited_estimate: float
    prior_beyond: float
    log_prior: Floats
    log_likelihood: Floats
    gross: Floats
    log_single: Floats
    log_outside: Floats
    renewed: frozenset[str] = frozenset()

    def faults_now(self, hypothesis: Hypothesis) -> frozenset[Fault]:
        """The faults of a hypothesis that no renewal has removed."""
        return frozenset(fault for fault in hypothesis if fault[0] not in self.renewed)

    @property
    def healthy(self) -> float:
        """Probability, within the model, that nothing is wrong now. It is not a statement that the object is safe."""
        return sum(float(w) for one, w in zip(self.hypotheses, self.weights, strict=True) if not self.faults_now(one))

    def parts(self) -> dict[str, float]:
        """Probability that each part is faulty now, likeliest first; equals by name."""
        return dict(self._parts)

    def modes(self) -> dict[Fault, float]:
        """Probability that each part is faulty now in each mode, likeliest first."""
        return dict(self._modes)

    def with_part(self, part: str) -> NDArray[np.bool_]:
        """Which hypotheses hold a fault of that part, shape (H,)."""
        found = np.zeros(len(self.hypotheses), dtype=bool)
        found[self._rows.get(part, [])] = True
        return found

    def leading(self, pruned: float, most: int) -> NDArray[np.intp]:
        """Rows of the likeliest hypotheses: at most so many, fewer if those left out weigh no more than `pruned`."""
        tail = np.cumsum(self.weights[::-1])[::-1]
        needed = max(1, int((tail > pruned).sum()))
        return np.arange(min(needed, most, len(self.weights)))

    def entropy(self) -> float:
        """Doubt about which hypothesis is true, with 'not in the model' as one of them. [bit]"""
        shares = np.append(self.weights, self.not_in_model)
        shares = shares[shares > 0]
        return float(-(shares * np.log2(shares)).sum())

    @cached_property
    def _modes(self) -> dict[Fault, float]:
        return self._shares(lambda fault: fault)

    @cached_property
    def _parts(self) -> dict[str, float]:
        return self._shares(lambda fault: fault[0])

    @cached_property
    def _rows(self) -> dict[str, list[int]]:
        """Rows of the hypotheses that hold a fault of each part."""
        rows: dict[str, list[int]] = {}
        for row, one in enumerate(self.hypotheses):
            for part in {ref for ref, _ in one}:
                rows.setdefault(part, []).append(row)
        return rows

    def _shares(self, key: Callable[[Fault], Key]) -> dict[Key, float]:
        found: dict[Key, float] = {}
        for one, weight in zip(self.hypotheses, self.weights, strict=True):
            for fault in self.faults_now(one):
                found[key(fault)] = found.get(key(fault), 0.0) + float(weight)
        return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))
