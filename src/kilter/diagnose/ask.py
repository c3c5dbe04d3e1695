"""
The asker: which test to do next.

Tests that may not be offered are dropped first (kilter.diagnose.cost). The others are ranked by value: bits of
information about which hypothesis is true, 'not in the model' among them, per minute of cost. The tests at the head
of that list are then looked at two steps deep: for each outcome of the first test, the best second one. Hypotheses
that ask for the same repair count as different, so a test that only tells modes of one part apart is worth something
too; kilter.diagnose.stop decides when that no longer pays.

Ties in value are broken by more bits, then lower grade, fewer minutes, and the names of point, quantity, state and
instrument.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kilter.diagnose.cost import Bench
from kilter.diagnose.evidence import Candidate, Evidence, key_of
from kilter.diagnose.expect import Expected
from kilter.diagnose.information import numeric_bits, word_bits
from kilter.diagnose.outcomes import outcome_shares
from kilter.diagnose.outlook import Outlook, Outlooks
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.settings import setting
from kilter.records.test import Test
from kilter.simulate.prediction import Floats

NEGLIGIBLE = 1e-6
"""Outcomes with a smaller chance than this are not followed."""
LEAST_COST = 0.01
"""A free test still takes this long to read. [min]"""


@dataclass(frozen=True)
class Advice:
    """
    One test with what it is worth.

    Args:
        test: What to do.
        bits: Expected information of the test alone. [bit]
        bits_two_step: The same with the best second test after it, where that was looked at and pays. [bit]
        minutes: Time, with a change of state where one is needed. [min]
        cost: Minutes with the worth of the intervention and its risks. [min]
        value: Information per cost, over both steps where two were looked at. [bit/min]
        outlook: What the leading suspects expect it to read.
        retake: It was done before and the reading is probably wrong.
    """

    test: Test
    bits: float
    bits_two_step: float
    minutes: float
    cost: float
    value: float
    outlook: Sequence[Outlook] = ()
    retake: bool = False


def open_tests(
    posterior: Posterior, evidence: Sequence[Evidence], candidates: Sequence[Candidate], bench: Bench
) -> tuple[Candidate, ...]:
    """Tests that may be offered; one already done stays only if its reading is probably wrong."""
    again = _worth_retaking(posterior, evidence)
    return tuple(one for one in candidates if bench.allows(one.test) and again.get(key_of(one.test), True))


def ask(
    posterior: Posterior, expected: Expected, evidence: Sequence[Evidence], bench: Bench, *, two_steps: bool = True
) -> tuple[Advice, ...]:
    """
    The open tests that tell something, best first.

    Args:
        posterior: What is believed now.
        expected: The mixture over the open tests, from `kilter.diagnose.expect.expect`.
        evidence: The readings behind the posterior, in the same order.
        bench: State the object is in, for the cost of changing it.
        two_steps: Look two steps deep for the leaders.
    """
    bits = information(expected)
    costs = np.array([_cost(bench, one) for one in expected.candidates])
    order = [c for c in _order(expected, bits, bits / costs) if bits[c] >= setting("least_bits")]
    follow = np.zeros((2, len(bits)))
    if two_steps and len(order) > 1:
        for c in order[: int(setting("look_ahead_tests"))]:
            follow[:, c] = _second_step(expected, bench, c, float(bits[c] / costs[c]), order)
    value = (bits + follow[0]) / (costs + follow[1])
    again = _worth_retaking(posterior, evidence)
    return tuple(
        Advice(
            test=(test := expected.candidates[c].test),
            bits=float(bits[c]),
            bits_two_step=float(bits[c] + follow[0, c]),
            minutes=bench.minutes(test),
            cost=float(costs[c]),
            value=float(value[c]),
            outlook=Outlooks(posterior, expected, c),
            retake=again.get(key_of(test), False),
        )
        for c in _order(expected, bits, value)
        if bits[c] >= setting("least_bits")
    )


def information(expected: Expected, weights: Floats | None = None) -> Floats:
    """Expected information of every test of the mixture, shape (C,). [bit]"""
    weights = expected.weights if weights is None else weights
    bits = np.zeros(len(expected.candidates))
    for c, (_, chances) in expected.words.items():
        bits[c] = word_bits(weights, chances)
    cs = expected.numeric()
    if cs.size:
        tables = (expected.mean[:, cs], expected.spread[:, cs], expected.noise()[cs], expected.width()[cs])
        bits[cs] = numeric_bits(weights, *tables, expected.gross()[cs], expected.unknown[:, cs])
    return bits


def _second_step(
    expected: Expected, bench: Bench, first: int, rate: float, order: Sequence[int]
) -> tuple[float, float]:
    """
    Discounted information and cost of the best second test, averaged over the outcomes of the first.

    A second step counts only for outcomes after which it earns more per cost than the first test does by itself, so a
    test that settles the matter is not marked down for leaving nothing to ask.
    """
    seconds = np.array([c for c in order[: int(setting("look_ahead_follow_ups"))] if c != first], dtype=np.intp)
    rows = _heaviest(expected, int(setting("look_ahead_hypotheses")))
    shares = outcome_shares(expected.some(rows, np.array([first])), 0, int(setting("look_ahead_outcomes")))
    there = replace(bench, state=expected.candidates[first].test.state)
    costs = np.array([_cost(there, expected.candidates[c]) for c in seconds])
    small = expected.some(rows, seconds)
    gained = spent = 0.0
    for share in shares.T:
        chance = float(small.weights @ share)
        if chance < NEGLIGIBLE:
            continue
        bits = information(small, small.weights * share / chance)
        best = int(np.argmax(bits / costs))
        if bits[best] / costs[best] > rate:
            gained += chance * float(bits[best])
            spent += chance * float(costs[best])
    discount = setting("look_ahead_discount")
    return discount * gained, discount * spent


def _cost(bench: Bench, one: Candidate) -> float:
    return max(bench.cost(one.test), LEAST_COST)


def _heaviest(expected: Expected, most: int) -> NDArray[np.intp]:
    """Rows of the likeliest hypotheses, with 'not in the model' always kept at the end."""
    rows = np.sort(np.argsort(-expected.weights[:-1], kind="stable")[:most])
    return np.append(rows, len(expected.weights) - 1)


def _order(expected: Expected, bits: Floats, value: Floats) -> list[int]:
    def rank(c: int) -> tuple[object, ...]:
        test = expected.candidates[c].test
        return (-round(float(value[c]), 9), -round(float(bits[c]), 9), test.grade, test.minutes, *key_of(test))

    return sorted(range(len(bits)), key=rank)


def _worth_retaking(posterior: Posterior, evidence: Sequence[Evidence]) -> dict[tuple[str, str, str, str], bool]:
    """For each test already done, whether its reading is probably grossly wrong."""
    gross = posterior.weights @ posterior.gross if len(evidence) else np.zeros(0)
    return {key_of(one.test): bool(share >= setting("retake")) for one, share in zip(evidence, gross, strict=True)}
