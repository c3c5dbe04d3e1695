"""
Recalibration: what a called probability turned out to be worth, as a curve of three coefficients.

The log odds of the recalibrated probability are a ln p - b ln(1 - p) + c: with a = b = 1 and c = 0 nothing changes. The
coefficients are the likeliest ones under a normal prior about 'nothing changes', so few visits change little.
Source: beta calibration (Kull, Silva Filho and Flach, 2017; from memory); logistic regression by Newton's method.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from kilter.simulate.prediction import Floats

EDGE = 1e-6
"""Probabilities are kept this far from 0 and 1, where a logarithm would say more than any number of visits can."""
AS_CALLED = (1.0, 1.0, 0.0)
STEPS, SETTLED = 50, 1e-10


@dataclass(frozen=True)
class Recalibration:
    """
    The curve.

    Args:
        below: a, how strongly small probabilities are meant: under 1, they were called too small.
        above: b, the same for those near 1.
        shift: c.
    """

    below: float = 1.0
    above: float = 1.0
    shift: float = 0.0

    def __call__(self, called: ArrayLike) -> Floats:
        """
        What such calls are worth.

        >>> bool(abs(Recalibration()([0.2, 0.9]) - [0.2, 0.9]).max() < 1e-12)
        True
        """
        return _chance(_columns(called) @ np.array([self.below, self.above, self.shift]))


def fitted(called: ArrayLike, so: ArrayLike, prior_sd: float) -> Recalibration:
    """
    The likeliest curve.

    Args:
        called: Probabilities, shape (n,).
        so: Whether each turned out so, shape (n,).
        prior_sd: Standard deviation of each coefficient about 'as called'.
    """
    columns, truth, start = _columns(called), np.asarray(so, dtype=float), np.array(AS_CALLED)
    weights = start.copy()
    precision = np.eye(3) / prior_sd**2

    def loss(trial: Floats) -> float:
        logits = columns @ trial
        pull = float((trial - start) @ precision @ (trial - start)) / 2
        return float((np.logaddexp(0.0, logits) - truth * logits).sum()) + pull

    for _ in range(STEPS):
        chance = _chance(columns @ weights)
        slope = columns.T @ (chance - truth) + precision @ (weights - start)
        curve = (columns * (chance * (1 - chance))[:, None]).T @ columns + precision
        step = np.linalg.solve(curve, slope)
        size = 1.0
        while size > SETTLED and loss(weights - size * step) > loss(weights):
            size /= 2
        weights = weights - size * step
        if float(np.abs(size * step).max()) < SETTLED:
            break
    return Recalibration(*(float(one) for one in weights))


def _columns(called: ArrayLike) -> Floats:
    p = np.clip(np.asarray(called, dtype=float), EDGE, 1 - EDGE)
    return np.column_stack([np.log(p), -np.log1p(-p), np.ones_like(p)])


def _chance(logits: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-logits)))
