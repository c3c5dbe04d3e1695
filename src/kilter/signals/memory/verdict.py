"""What is concluded from weighed explanations: probabilities, ties, and a share for what the model does not hold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp

from kilter.signals.memory.changes import Hypothesis
from kilter.signals.memory.figures import number
from kilter.signals.memory.tallies import log_sum

SAME = "same"
"""Kind of the explanation that nothing differs."""

OUTSIDE = "not_in_model"
"""Kind of the explanation that it is something else."""


@dataclass(frozen=True)
class Weighed:
    """
    One explanation of a dump.

    Args:
        kind: Key of its fault class; that of the first change where there are several.
        hypothesis: The changes; empty for a class that counts alone weigh.
        log_prior: Beforehand.
        log_likelihood: Of all bits of the dump.
        wrong: Bits that it leaves unexplained; None for a class that predicts no single bit.
        exact: Whether every word was compared; else `wrong` is estimated from a sample.
        print: Equal for explanations that predict the same words; None where it was not taken.
    """

    kind: str
    hypothesis: Hypothesis
    log_prior: float
    log_likelihood: float
    wrong: float | None = None
    exact: bool = True
    print: int | None = None

    @property
    def log_joint(self) -> float:
        """Prior and likelihood together."""
        return self.log_prior + self.log_likelihood


@dataclass(frozen=True)
class Finding:
    """One explanation with its probability."""

    explanation: Weighed
    probability: float


@dataclass(frozen=True)
class Verdict:
    """
    All explanations, weighed against each other.

    Args:
        findings: Those worth naming, likeliest first; their probabilities and `rest` add up to 1.
        rest: Probability of those that are not listed.
        ties: Groups of findings, by place in the list, that these readings cannot tell apart.
        not_in_model: Probability that it is none of these.
        every: All explanations, for those who weigh on.
    """

    findings: tuple[Finding, ...]
    rest: float
    ties: tuple[tuple[int, ...], ...]
    not_in_model: float
    every: tuple[Weighed, ...]


def verdict_of(weighed: Iterable[Weighed]) -> Verdict:
    """The verdict over these explanations."""
    every = sorted(weighed, key=lambda one: -one.log_joint)
    total = log_sum([one.log_joint for one in every])
    found = [Finding(one, exp(one.log_joint - total)) for one in every]
    named = tuple(one for one in found if one.probability >= number("worth_naming"))
    rest = max(1.0 - sum(one.probability for one in named), 0.0)
    outside = sum(one.probability for one in found if one.explanation.kind == OUTSIDE)
    return Verdict(named, rest, _ties(named), outside, tuple(every))


def _ties(findings: Sequence[Finding]) -> tuple[tuple[int, ...], ...]:
    """Places of findings that predict the same, or that weigh the same counts alike."""
    alike: dict[tuple[str, float], list[int]] = {}
    for at, one in enumerate(findings):
        told = one.explanation
        key = ("counts", round(told.log_likelihood, 6)) if told.print is None else ("words", float(told.print))
        alike.setdefault(key, []).append(at)
    return tuple(tuple(group) for group in alike.values() if len(group) > 1)
