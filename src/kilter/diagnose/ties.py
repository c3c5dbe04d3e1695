"""
Ties: suspects that no remaining test can tell apart.

Two suspects are compared over the hypotheses that hold one of them and not the other, those left out in which one
fault fewer explains the readings as well. A part that has most of its probability in those that are left out only
comes along, and is no alternative to what explains the readings. If in every remaining test their predicted readings
overlap by at least the setting, they are tied; ties chain into groups. Each test is judged by itself, so suspects that
only many weak tests together could part are still called a tie.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from kilter.diagnose.expect import Expected
from kilter.diagnose.outcomes import outcome_shares
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.settings import setting
from kilter.simulate.prediction import Floats, Hypothesis

OUTCOMES = 64
LEAST = float(np.finfo(float).tiny)


def ties(posterior: Posterior, expected: Expected) -> tuple[tuple[str, ...], ...]:
    """
    Groups of two or more suspects that stay together, likeliest group first.

    Args:
        expected: The mixture over all tests that are still open.
    """
    needed = _needed(posterior)
    named = [part for part, share in posterior.parts().items() if share >= setting("leader")]
    own = _own_shares(posterior, needed)
    suspects = [part for part in named if own.get(part, 0.0) >= setting("tie_own_share") * posterior.parts()[part]]
    holds = [
        np.array([one in needed and _holds(one, part) for one in expected.hypotheses] + [False]) for part in suspects
    ]
    shares = [outcome_shares(expected, c, OUTCOMES) for c in range(len(expected.candidates))]
    leader, telling = list(range(len(suspects))), _telling(expected.weights, holds, shares)
    for a, b in combinations(range(len(suspects)), 2):
        first = np.minimum(telling[a], telling[b]).sum(axis=1).argsort()
        if leader[a] != leader[b] and _alike(expected.weights, holds[a], holds[b], [shares[c] for c in first]):
            leader = [leader[a] if one == leader[b] else one for one in leader]
    groups = [tuple(suspects[i] for i, one in enumerate(leader) if one == first) for first in dict.fromkeys(leader)]
    return tuple(group for group in groups if len(group) > 1)


def _telling(weights: Floats, holds: Sequence[NDArray[np.bool_]], shares: Sequence[Floats]) -> Floats:
    """What each suspect expects of each test, shape (suspects, tests, OUTCOMES): tells which test to compare first."""
    found = np.zeros((len(holds), len(shares), OUTCOMES))
    own = np.array([weights * one / max(float((weights * one).sum()), LEAST) for one in holds])
    for place, one in enumerate(shares if holds else ()):
        found[:, place, : one.shape[1]] = own @ one
    return found


def _alike(weights: Floats, a: NDArray[np.bool_], b: NDArray[np.bool_], shares: Sequence[Floats]) -> bool:
    """Whether they overlap enough in every test; never where the two only occur together: no alternatives then."""
    first, second, least = weights * (a & ~b), weights * (b & ~a), setting("tie_overlap")
    if first.sum() <= 0 or second.sum() <= 0:
        return False
    first, second = first / first.sum(), second / second.sum()
    return all(float(np.minimum(first @ one, second @ one).sum()) >= least for one in shares)


def _needed(posterior: Posterior) -> set[Hypothesis]:
    """The fault sets of which no visited set with one fault fewer, and at least one, explains the readings as well."""
    explains = dict(zip(posterior.hypotheses, posterior.log_likelihood, strict=True))
    better = setting("tie_extra_fault")

    def is_needed(one: Hypothesis) -> bool:
        smaller = (explains.get(one - {fault}, -np.inf) for fault in one) if len(one) > 1 else ()
        return all(explains[one] > less + better for less in smaller)

    return {one for one in posterior.hypotheses if is_needed(one)}


def _own_shares(posterior: Posterior, needed: set[Hypothesis]) -> dict[str, float]:
    """Probability of each part that lies in needed sets."""
    own: dict[str, float] = {}
    for one, weight in zip(posterior.hypotheses, posterior.weights.tolist(), strict=True):
        if one in needed:
            for part in {ref for ref, _ in posterior.faults_now(one)}:
                own[part] = own.get(part, 0.0) + weight
    return own


def _holds(hypothesis: frozenset[tuple[str, str]], part: str) -> bool:
    return any(ref == part for ref, _ in hypothesis)
