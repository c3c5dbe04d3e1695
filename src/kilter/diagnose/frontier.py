"""
The frontier of the search: fault sets not visited whose parent was, the most promising first.

A child's score is optimistic: its own prior, its parent's likelihood, and for every reading the gain if it were
explained as well as by the better of three: the parent, the added fault alone, and the sum of both faults' shifts of
the mean (superposition, which is exact for small shifts in a linear circuit and only a guide elsewhere). So the
second of two real faults comes to the front even where both act on one reading, and a set that masks is merely
visited late. Scores decide only the order of visits and the estimate of what is left; weights always come from the
predictor.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush
from math import factorial

import numpy as np

from kilter.diagnose.outliers import HALF_LOG_TAU
from kilter.diagnose.priors import Priors
from kilter.diagnose.weigh import Weighed
from kilter.simulate.prediction import Fault, Floats, Hypothesis

PARENTS_AT_ONCE = 8
"""Parents whose children are scored together: enough to be quick, and few enough to stay in the processor's cache."""


class Frontier:
    """
    Visited sets as parents, each with the scores of its children.

    Args:
        faults: All faults, length F.
        priors: Their odds.
        max_faults: Size of the largest set.
        singles: The single faults as weighed, in the order of the faults.
        healthy: Deviation of each reading when nothing is wrong. [scaled], shape (R,)
        log_good: Log chance that each reading is no gross error, shape (R,).
    """

    def __init__(
        self,
        faults: Sequence[Fault],
        priors: Priors,
        max_faults: int,
        singles: Weighed,
        healthy: Floats,
        log_good: Floats,
    ) -> None:
        self.faults, self.max_faults, self.log_single = tuple(faults), max_faults, singles.log_single
        self.shift, self.log_good = healthy - singles.deviation, log_good
        self.log_odds = np.array([priors.log_odds[fault] for fault in faults])
        self.place = {fault: place for place, fault in enumerate(faults)}
        self.of_part: dict[str, list[int]] = {}
        for place, (part, _) in enumerate(faults):
            self.of_part.setdefault(part, []).append(place)
        self.number: dict[Hypothesis, int] = {}
        self.parents: list[Hypothesis] = []
        self.scores: list[Floats] = []
        self.grown: dict[Hypothesis, list[int]] = {}
        self.heap: list[tuple[float, int]] = []
        self.odds = float(np.exp(np.logaddexp.reduce(self.log_odds)))
        self.log_mass: list[float] = []
        self.changed: set[int] = set()

    def grow(self, visited: Sequence[Hypothesis], log_prior: Floats, weighed: Weighed) -> None:
        """Makes newly visited sets into parents and takes them out of the scores of their own parents."""
        for one in visited:
            self._leave_out(one)
        log_weight = log_prior + weighed.log_likelihood
        parents = [h for h, one in enumerate(visited) if 0 < len(one) < self.max_faults]
        for start in range(0, len(parents), PARENTS_AT_ONCE):
            some = parents[start : start + PARENTS_AT_ONCE]
            gains = self._gains(weighed.log_single[some], weighed.deviation[some], weighed.sd[some])
            for h, gain in zip(some, gains, strict=True):
                self._add(visited[h], log_weight[h] + self.log_odds + gain)

    def _gains(self, log_single: Floats, deviation: Floats, sd: Floats) -> Floats:
        """How much better each added fault could explain the readings than each parent does, shape (parents, F)."""
        good = self.log_good - HALF_LOG_TAU - np.log(sd)
        summed = -0.5 * ((deviation[:, None] - self.shift) / sd[:, None]) ** 2 + good[:, None]
        best = np.fmax(summed, self.log_single)
        return np.asarray(np.maximum(best - log_single[:, None], 0.0).sum(axis=2))

    def best(self, room: int) -> list[Hypothesis]:
        """The most promising sets, at most so many; equals in the order in which their parents came."""
        chosen: list[Hypothesis] = []
        while self.heap and len(chosen) < room:
            score, number = heappop(self.heap)
            top = int(np.argmax(self.scores[number]))
            if -score > self.scores[number][top]:
                self._push(number)
                continue
            chosen.append(self.parents[number] | {self.faults[top]})
            self._leave_out(chosen[-1])
            self._push(number)
        return chosen

    def log_left(self) -> float:
        """Log of the sum of all scores, with room for what could be added to the children in turn."""
        for number in self.changed:
            depth = self.max_faults - len(self.parents[number])
            more = sum(self.odds**j / factorial(j) for j in range(depth))
            self.log_mass[number] = float(np.logaddexp.reduce(self.scores[number]) + np.log(more))
        self.changed.clear()
        return float(np.logaddexp.reduce(self.log_mass)) if self.log_mass else -np.inf

    def _add(self, parent: Hypothesis, scores: Floats) -> None:
        for part, _ in parent:
            scores[self.of_part[part]] = -np.inf
        scores[self.grown.pop(parent, [])] = -np.inf
        number = self.number[parent] = len(self.parents)
        self.parents.append(parent)
        self.scores.append(scores)
        self.log_mass.append(-np.inf)
        self.changed.add(number)
        self._push(number)

    def _push(self, number: int) -> None:
        top = float(self.scores[number].max())
        if np.isfinite(top):
            heappush(self.heap, (-top, number))

    def _leave_out(self, one: Hypothesis) -> None:
        """A set that is visited, or about to be, is no longer anybody's child."""
        for fault in one:
            parent, place = one - {fault}, self.place[fault]
            number = self.number.get(parent)
            if number is None:
                self.grown.setdefault(parent, []).append(place)
            else:
                self.scores[number][place] = -np.inf
                self.changed.add(number)
