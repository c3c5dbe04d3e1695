"""Try changes of an image against a dump: all on a sample of words, the leaders on every word, then in pairs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import log
from zlib import crc32

import numpy as np

from kilter.signals.memory.candidates import Candidates
from kilter.signals.memory.changes import Hypothesis, read_through
from kilter.signals.memory.contents import Addresses, Contents, Words
from kilter.signals.memory.figures import log_beside, number
from kilter.signals.memory.verdict import Weighed


@dataclass(frozen=True)
class Sample:
    """Words that differ and words that do not, with how many of all words each stands for."""

    image: Contents
    addresses: Addresses
    read: Words
    differing: int
    weights: tuple[float, float]

    def wrong(self, hypothesis: Hypothesis) -> float:
        """Estimated number of wrong bits among all words."""
        apart = np.bitwise_count(read_through(self.image, self.addresses, hypothesis) ^ self.read)
        first = float(apart[: self.differing].sum(dtype=np.int64))
        return self.weights[0] * first + self.weights[1] * (float(apart.sum(dtype=np.int64)) - first)


@dataclass(frozen=True)
class Trial:
    """An image and a dump of the same length, ready for many hypotheses."""

    image: Contents
    dump: Contents

    @cached_property
    def addresses(self) -> Addresses:
        """All addresses."""
        return np.arange(len(self.image.words), dtype=np.int64)

    @cached_property
    def differing(self) -> Addresses:
        """Addresses whose words differ."""
        return np.flatnonzero(self.image.words != self.dump.words)

    def sample(self, most: int) -> Sample:
        """At most that many differing words and as many others, drawn with a fixed seed so that a run repeats."""
        random = np.random.default_rng(0)
        differ = self.differing
        drawn = differ if len(differ) <= most else np.sort(random.choice(differ, most, replace=False))
        others = len(self.image.words) - len(differ)
        equal = random.integers(0, len(self.image.words), 4 * most) if others > most else self.addresses
        equal = equal[self.image.words[equal] == self.dump.words[equal]]
        equal = equal[:most] if others > most else equal
        weights = (len(differ) / max(len(drawn), 1), others / max(len(equal), 1))
        at = np.concatenate([drawn, equal])
        return Sample(self.image, at, self.dump.words[at], len(drawn), weights)

    def log_likelihood(self, wrong: float) -> float:
        """Of a hypothesis that leaves so many bits wrong, as single cells may be."""
        return log_beside(wrong, self.image.bits)

    def exactly(self, one: Weighed) -> Weighed:
        """The same explanation, compared with every word."""
        predicted = read_through(self.image, self.addresses, one.hypothesis)
        wrong = int(np.bitwise_count(predicted ^ self.dump.words).sum(dtype=np.int64))
        likelihood = self.log_likelihood(wrong)
        return Weighed(one.kind, one.hypothesis, one.log_prior, likelihood, wrong, True, crc32(predicted.tobytes()))

    def roughly(self, sample: Sample, hypothesis: Hypothesis, log_prior: float) -> Weighed:
        """An explanation, compared with the sample."""
        wrong = sample.wrong(hypothesis)
        return Weighed(hypothesis[0].kind, hypothesis, log_prior, self.log_likelihood(wrong), wrong, exact=False)


def weigh_changes(trial: Trial, tried: Candidates) -> list[Weighed]:
    """Every single change, and pairs of changes where no single one explains the dump; likeliest first."""
    sample = trial.sample(int(number("sample")))
    singles = [trial.roughly(sample, (one,), prior) for one, prior in zip(tried.changes, tried.log_prior, strict=True)]
    singles = _with_exact_leaders(trial, singles)
    best = min((one.wrong for one in singles if one.exact and one.wrong is not None), default=0.0)
    if best <= number("pairs_from") * trial.image.bits:
        return singles
    return sorted(singles + _with_exact_leaders(trial, _pairs(trial, singles)), key=_rank)


def _pairs(trial: Trial, singles: Sequence[Weighed]) -> list[Weighed]:
    """The leading changes, each with a second one that alone explains something."""
    sample = trial.sample(int(number("pair_sample")))
    nothing = sample.wrong(())
    useful = [one for one in singles if one.wrong is not None and one.wrong < nothing]
    starts = useful[: int(number("pair_starts"))]
    pairs = {frozenset((*one.hypothesis, *two.hypothesis)): (one, two) for one in starts for two in useful}
    extra = log(number("two_changes"))
    return [
        trial.roughly(sample, one.hypothesis + two.hypothesis, one.log_prior + two.log_prior + extra)
        for one, two in pairs.values()
        if one is not two
    ]


def _with_exact_leaders(trial: Trial, rough: Sequence[Weighed]) -> list[Weighed]:
    ranked = sorted(rough, key=_rank)
    leaders = int(number("leaders"))
    return sorted([trial.exactly(one) for one in ranked[:leaders]] + ranked[leaders:], key=_rank)


def _rank(one: Weighed) -> float:
    return -one.log_joint
