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
from math import factorial, log

import numpy as np

from kilter.diagnose.outliers import HALF_LOG_TAU
from kilter.diagnose.priors import Priors
from kilter.diagnose.weigh import Weighed
from kilter.simulate.prediction import Fault, Floats, Hypothesis

PARENTS_AT_ONCE = 256
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
        self.table = np.empty((0, len(faults)))
        self.log_mass = np.empty(0)
        self.grown: dict[Hypothesis, list[int]] = {}
        self.heap: list[tuple[float, int]] = []
        odds = float(np.exp(np.logaddexp.reduce(self.log_odds)))
        self.log_more = [log(sum(odds**j / factorial(j) for j in range(depth))) for depth in range(1, max_faults + 1)]
        self.changed: set[int] = set()

    def grow(self, visited: Sequence[Hypothesis], log_prior: Floats, weighed: Weighed) -> None:
        """Makes newly visited sets into parents and takes them out of the scores of their own parents."""
        for one in visited:
            self._leave_out(one)
        rows = [h for h, one in enumerate(visited) if 0 < len(one) < self.max_faults]
        first = len(self.parents)
        self._make_room(first + len(rows))
        log_weight = (log_prior + weighed.log_likelihood)[rows, None]
        gains = self._gains(weighed.log_single[rows], weighed.deviation[rows], weighed.sd[rows])
        scores = self.table[first : first + len(rows)]
        np.add(log_weight + self.log_odds, gains, out=scores)
        for place, h in enumerate(rows):
            self._add(visited[h], scores[place])
        tops = scores.max(axis=1, initial=-np.inf)
        for place in np.flatnonzero(np.isfinite(tops)).tolist():
            heappush(self.heap, (-float(tops[place]), first + place))

    def _gains(self, log_single: Floats, deviation: Floats, sd: Floats) -> Floats:
        """How much better each added fault could explain the readings than each parent does, shape (parents, F)."""
        good = self.log_good - HALF_LOG_TAU - np.log(sd)
        found = np.zeros((len(log_single), len(self.faults)))
        for start in range(0, len(found), PARENTS_AT_ONCE):
            some = slice(start, start + PARENTS_AT_ONCE)
            gain = found[some]
            for r in range(log_single.shape[1]):
                step = (deviation[some, r, None] - self.shift[:, r]) / sd[some, r, None]
                np.square(step, out=step)
                step *= -0.5
                step += good[some, r, None]
                np.fmax(step, self.log_single[:, r], out=step)
                step -= log_single[some, r, None]
                gain += np.maximum(step, 0.0, out=step)
        return found

    def best(self, room: int) -> list[Hypothesis]:
        """The most promising sets, at most so many; equals in the order in which their parents came."""
        chosen: list[Hypothesis] = []
        while self.heap and len(chosen) < room:
            score, number = heappop(self.heap)
            top = int(self.table[number].argmax())
            if -score > self.table[number, top]:
                self._push(number)
                continue
            chosen.append(self.parents[number] | {self.faults[top]})
            self._leave_out(chosen[-1])
            self._push(number)
        return chosen

    def log_left(self) -> float:
        """Log of the sum of all scores, with room for what could be added to the children in turn."""
        rows = sorted(self.changed)
        self.changed.clear()
        for start in range(0, len(rows), PARENTS_AT_ONCE):
            some = rows[start : start + PARENTS_AT_ONCE]
            more = [self.log_more[self.max_faults - len(self.parents[number]) - 1] for number in some]
            self.log_mass[some] = _log_sum(self.table[some]) + more
        return float(_log_sum(self.log_mass[None, : len(self.parents)])[0]) if self.parents else -np.inf

    def _add(self, parent: Hypothesis, scores: Floats) -> None:
        """Takes one more parent; its scores stand in the table already."""
        for part, _ in parent:
            scores[self.of_part[part]] = -np.inf
        scores[self.grown.pop(parent, [])] = -np.inf
        number = self.number[parent] = len(self.parents)
        self.parents.append(parent)
        self.changed.add(number)

    def _make_room(self, parents: int) -> None:
        """Widens the table to so many parents, with some to spare."""
        missing = parents - len(self.table)
        if missing > 0:
            spare = max(missing, len(self.table))
            self.table = np.concatenate([self.table, np.full((spare, len(self.faults)), -np.inf)])
            self.log_mass = np.concatenate([self.log_mass, np.full(spare, -np.inf)])

    def _push(self, number: int) -> None:
        top = float(self.table[number].max())
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
                self.table[number, place] = -np.inf
                self.changed.add(number)


def _log_sum(logs: Floats) -> Floats:
    """Log of the sum of exponentials of each row; minus infinity for a row of nothing else."""
    top = logs.max(axis=1, initial=-np.inf)
    top = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(top + np.log(np.exp(logs - top[:, None]).sum(axis=1)))
