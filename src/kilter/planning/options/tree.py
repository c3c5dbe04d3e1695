"""
The decision tree of cures: try one, see whether the object works, try another, or leave it.

A belief is a chance for each set of faults that may be present. A cure removes each fault that it treats with its own
chance, one independent of another; after it the object works or not, which is seen without error. Trying a cure costs
its cost, and a recheck where the object still does not work. Leaving an object that does not work costs the static
loss. The same cure is not tried twice: what it could not remove, it would not remove the second time.

With no more cures than the beam the tree is worked out wholly, and the answer is the least expected loss that any
plan of at most `depth` cures can have; otherwise it is an upper bound of that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from kilter.planning.options.cure import Cure
from kilter.simulate.prediction import Fault, Floats

Faults = frozenset[Fault]
SOMETHING_ELSE: Faults = frozenset({("", "something else")})
"""A fault that no cure removes."""
WORKS: Faults = frozenset()
NEVER = 1e-12


@dataclass(frozen=True)
class Tree:
    """
    What may be wrong, and what may be tried.

    Args:
        beliefs: Chance of each fault set; they add up to one.
        cures: That may be tried.
        static_loss: Loss of leaving an object that does not work. [min]
        recheck: Loss of finding, after a cure, that it still does not work. [min]
        depth: Most cures one after another.
        beam: Most cures followed at each branch below the first.
    """

    beliefs: Mapping[Faults, float]
    cures: tuple[Cure, ...]
    static_loss: float
    recheck: float
    depth: int
    beam: int

    @cached_property
    def states(self) -> tuple[Faults, ...]:
        """Every fault set that can come about, the one that works first."""
        found: dict[Faults, None] = {WORKS: None}
        todo = list(self.beliefs)
        while todo:
            one = todo.pop()
            if one not in found:
                found[one] = None
                todo += [one - {fault} for fault in one if fault != ("", "something else")]
        return tuple(sorted(found, key=lambda faults: (len(faults), sorted(faults))))

    @cached_property
    def belief(self) -> Floats:
        """Chance of each state, shape (S,)."""
        return np.array([self.beliefs.get(one, 0.0) for one in self.states])

    @cached_property
    def moves(self) -> Floats:
        """Chance of each state after each cure, from each state, shape (A, S, S)."""
        place = {one: at for at, one in enumerate(self.states)}
        table = np.zeros((len(self.cures), len(self.states), len(self.states)))
        for a, cure in enumerate(self.cures):
            for s, now in enumerate(self.states):
                treated = sorted(fault for fault in now if cure.removes.get(fault, 0.0) > 0)
                for gone in product((False, True), repeat=len(treated)):
                    chance, left = 1.0, now
                    for fault, away in zip(treated, gone, strict=True):
                        chance *= cure.removes[fault] if away else 1.0 - cure.removes[fault]
                        left = left - {fault} if away else left
                    table[a, s, place[left]] += chance
        return table

    @cached_property
    def costs(self) -> Floats:
        """Cost of each cure, shape (A,). [min]"""
        return np.array([cure.cost for cure in self.cures])

    def leave(self, belief: Floats) -> float:
        """Expected loss of leaving it. [min]"""
        return float(self.static_loss * (1.0 - belief[0]))

    def act(self, belief: Floats, tried: frozenset[int] = frozenset(), depth: int | None = None) -> Floats:
        """
        Expected loss of each cure followed by the best that can be done then; infinite for those tried. [min], (A,)

        Args:
            belief: Chance of each state, shape (S,).
            tried: Places of cures that were tried.
            depth: Cures still allowed, this one included.
        """
        depth = self.depth if depth is None else depth
        return self._follow(belief, tried, depth, range(len(self.cures)))

    def best(self, belief: Floats, tried: frozenset[int] = frozenset(), depth: int | None = None) -> float:
        """Least expected loss of leaving it or trying a cure. [min]"""
        depth = self.depth if depth is None else depth
        leave = self.leave(belief)
        if depth <= 0 or leave <= 0.0 or not self.cures:
            return leave
        if depth == 1:
            return min(leave, float(self._alone(belief, tried).min()))
        order = np.argsort(self._alone(belief, tried), kind="stable")
        open_ = [int(a) for a in order if int(a) not in tried][: self.beam]
        return min(leave, float(self._follow(belief, tried, depth, open_).min(initial=np.inf)))

    def after_test(self, belief: Floats, shares: Floats) -> float:
        """
        Expected loss of the best that can be done once a test is read, its own cost left out. [min]

        Args:
            belief: Before the test, shape (S,).
            shares: Chance of each outcome in each state, rows adding up to one, shape (S, K).
        """
        total = 0.0
        for share in shares.T:
            chance = float(belief @ share)
            if chance > NEVER:
                total += chance * self.best(belief * share / chance)
        return total

    def fixed(self, belief: Floats, cure: int) -> float:
        """Chance that the object works after one cure."""
        return float(belief @ self.moves[cure][:, 0])

    def helps(self, belief: Floats, cure: int) -> float:
        """Chance that one cure removes a fault."""
        return 1.0 - float(belief @ np.diagonal(self.moves[cure]))

    def _alone(self, belief: Floats, tried: frozenset[int]) -> Floats:
        """Loss of each cure if the object is left when it did not help. [min], shape (A,)"""
        broken = 1.0 - np.einsum("s,asS->aS", belief, self.moves)[:, 0]
        losses = self.costs + (self.recheck + self.static_loss) * broken
        losses[list(tried)] = np.inf
        return np.asarray(losses)

    def _follow(self, belief: Floats, tried: frozenset[int], depth: int, which: Sequence[int]) -> Floats:
        losses = np.full(len(self.cures), np.inf)
        for a in which:
            if a in tried:
                continue
            after = belief @ self.moves[a]
            broken = 1.0 - float(after[0])
            losses[a] = self.costs[a]
            if broken > NEVER:
                after = after / broken
                after[0] = 0.0
                losses[a] += broken * (self.recheck + self.best(after, tried | {a}, depth - 1))
        return losses
