"""
Borrowed spread: sets of several faults are solved on the nominal board only and take their spread from a smaller set.

There are thousands of pairs of faults and few that matter; a full set of tolerance samples for each would make the
asker wait. The lender is the single fault of the set whose nominal voltages lie nearest, so that a dead board borrows
from a dead board.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from kilter.simulate.circuit.sweep import Sweep
from kilter.simulate.prediction import Hypothesis


class Borrowed:
    """
    Sweeps hypotheses, those of more than one fault with borrowed spread.

    Args:
        solve: A full sweep, and how many lanes another engine answered.
        nominal: A sweep of the nominal board alone.
    """

    def __init__(
        self,
        solve: Callable[[Sequence[Hypothesis]], tuple[Sweep, int]],
        nominal: Callable[[Sequence[Hypothesis]], Sweep],
    ) -> None:
        self._solve, self._nominal = solve, nominal
        self._lenders: dict[Hypothesis, int] = {}
        self._full = Sweep(np.empty((0, 0, 0)), np.empty((0, 0), dtype=bool), (), 0)

    def __call__(self, hypotheses: Sequence[Hypothesis]) -> tuple[Sweep, int]:
        """The sweep of all hypotheses, in their order."""
        several = [one for one in hypotheses if len(one) > 1]
        elsewhere = self._lend([one for one in hypotheses if len(one) <= 1] + [_single(f) for h in several for f in h])
        nominal = self._nominal(several) if several else None
        place = {one: row for row, one in enumerate(several)}
        volts, settled, floating = [], [], []
        for one in hypotheses:
            if one in place and nominal is not None:
                row = place[one]
                lent = self._nearest(one, nominal.volts[row, :, 0])
                volts.append(self._full.volts[lent] - self._full.volts[lent][:, :1] + nominal.volts[row])
                settled.append(self._full.settled[lent] & nominal.settled[row, 0])
                floating.append(nominal.floating[row])
            else:
                row = self._lenders[one]
                volts.append(self._full.volts[row])
                settled.append(self._full.settled[row])
                floating.append(self._full.floating[row])
        return Sweep(np.array(volts), np.array(settled), tuple(floating), 0), elsewhere

    def _lend(self, wanted: Sequence[Hypothesis]) -> int:
        """Solves the sets of at most one fault that have not been solved."""
        new = [one for one in dict.fromkeys(wanted) if one not in self._lenders]
        if not new:
            return 0
        found, elsewhere = self._solve(new)
        self._lenders.update(zip(new, range(len(self._lenders), len(self._lenders) + len(new)), strict=True))
        old = self._full
        self._full = found if not len(old.settled) else Sweep(
            np.concatenate([old.volts, found.volts]),
            np.concatenate([old.settled, found.settled]),
            old.floating + found.floating,
            0,
        )  # fmt: skip
        return elsewhere

    def _nearest(self, hypothesis: Hypothesis, volts: np.ndarray[tuple[int], np.dtype[np.float64]]) -> int:
        rows = [self._lenders[_single(fault)] for fault in sorted(hypothesis)]
        far = np.array([np.abs(self._full.volts[row][:, 0] - volts).sum() for row in rows])
        return rows[int(np.argmin(np.where(np.isnan(far), np.inf, far)))]


def _single(fault: tuple[str, str]) -> Hypothesis:
    return frozenset({fault})
