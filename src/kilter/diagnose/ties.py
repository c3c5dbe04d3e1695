"""
Ties: suspects that no remaining test can tell apart.

Two suspects are compared over the hypotheses that hold one of them and not the other, those left out in which one
fault fewer explains the readings as well. A part that has most of its probability in those that are left out only
comes along, and is no alternative to what explains the readings. If in every remaining test their predicted readings
overlap by at least the setting, they are tied; ties chain into groups. Each test is judged by itself, so suspects that
only many weak tests together could part are still called a tie.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from kilter.diagnose.expect import Expected
from kilter.diagnose.outcomes import all_outcome_shares
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.settings import setting
from kilter.simulate.prediction import Floats, Hypothesis

OUTCOMES = 64
TOLD_FIRST = 8
"""Tests looked at first where two suspects also occur together: those that part them best if one takes all of each."""


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
    rows = [one if one in needed else frozenset() for one in expected.hypotheses]
    faulty = [{ref for ref, _ in one} for one in rows]
    holds = np.array([[part in parts for parts in faulty] + [False] for part in suspects])
    if len(suspects) < 2:
        return ()
    shares, leader = all_outcome_shares(expected, OUTCOMES), list(range(len(suspects)))
    told, least = _told(expected.weights * holds, shares), setting("tie_overlap")
    for a, b in combinations(range(len(suspects)), 2):
        if leader[a] == leader[b]:
            continue
        overlap, both = np.minimum(told[a], told[b]).sum(axis=1), holds[a] & holds[b]
        if both.any():
            apart = expected.weights * (holds[[a, b]] & ~both)
            for some in (np.argsort(overlap)[:TOLD_FIRST], slice(None)):
                overlap = np.minimum(*_told(apart, shares[some])).sum(axis=1)
                if not (overlap >= least).all():
                    break
        if (overlap >= least).all():
            leader = [leader[a] if one == leader[b] else one for one in leader]
    groups = [tuple(suspects[i] for i, one in enumerate(leader) if one == first) for first in dict.fromkeys(leader)]
    return tuple(group for group in groups if len(group) > 1)


def _told(weights: Floats, shares: Floats) -> Floats:
    """
    What each suspect expects of each test; NaN, which overlaps nothing, for one that only occurs with the other.

    Args:
        weights: Of the hypotheses that speak for each suspect, shape (S, H + 1).
        shares: Chance of each outcome of each test under each hypothesis, shape (tests, H + 1, outcomes).

    Returns:
        Shape (S, tests, outcomes).
    """
    total = weights.sum(axis=1, keepdims=True)
    own = np.divide(weights, total, out=np.full_like(weights, np.nan), where=total > 0.0)
    return np.asarray((own @ shares).transpose(1, 0, 2))


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
