"""
The probabilities mean what they say: over faults drawn from the model itself, those given p are right p of the time.

Outside: the definition of calibration. Dumps of a tiny memory are drawn class by class from the priors in the data,
so that many are ambiguous; tolerance: four standard deviations of the number of hits, for the sums of p(1 - p).
"""

from __future__ import annotations

from math import exp

import numpy as np
from numpy.random import Generator

from kilter.signals.memory.candidates import candidates, regions_of
from kilter.signals.memory.changes import Change, Hypothesis, read_through
from kilter.signals.memory.comparison import compare
from kilter.signals.memory.contents import Contents, Words
from kilter.signals.memory.figures import fault_classes, number

WORDS, WIDTH, DRAWS = 16, 4, 400


def flipped(words: Words, chance: np.ndarray, random: Generator) -> Words:
    """Words with bits flipped, each with its chance, shape (words, width) or less."""
    flips = random.random((len(words), WIDTH)) < chance
    return words ^ (flips @ (1 << np.arange(WIDTH))).astype(np.uint8)


def planes(words: Words) -> np.ndarray:
    return words[:, None] >> np.arange(WIDTH) & 1


def any_words(random: Generator) -> Words:
    ones = random.random((WORDS, WIDTH)) < random.random(WIDTH)
    return (ones @ (1 << np.arange(WIDTH))).astype(np.uint8)


def noisy(words: Words, first: int, last: int, bits: int, random: Generator) -> Words:
    inside = (np.arange(WORDS) >= first) & (np.arange(WORDS) <= last)
    return np.where(inside, (words & ~np.uint8(bits)) | (any_words(random) & np.uint8(bits)), words)


def draw(image: Contents, random: Generator) -> tuple[str, Hypothesis, Words]:
    """A class, its changes and a dump, from the priors."""
    if random.random() < number("same"):
        return "same", (), image.words
    kinds = list(fault_classes())
    tried = candidates(image, image)
    shares = np.array([one.share for one in fault_classes().values()])
    shares[kinds.index("select_stuck")] = 0.0
    kind = str(random.choice(kinds, p=shares / shares.sum()))
    cells = 0.0 if random.random() < number("alone") else random.beta(1, number("cell_errors"))
    if kind == "cells":
        return kind, (), flipped(image.words, np.array(random.beta(1, number("cell_errors"))), random)
    if kind == "fade":
        chance = np.where(planes(image.words) == 0, random.beta(1, number("fade")), 0.0)
        return kind, (), flipped(image.words, chance, random)
    if kind == "wrong_image":
        return kind, (), any_words(random)
    if kind == "not_in_model":
        groups = int(random.choice([1, 4, 16]))
        shares = random.random((groups, WIDTH, 2)).repeat(WORDS // groups, axis=0)
        chance = np.take_along_axis(shares, planes(image.words)[..., None], axis=2)[..., 0]
        return kind, (), flipped(image.words, chance, random)
    if kind == "data_open":
        line = int(random.integers(WIDTH))
        return kind, (Change(kind, (line,)),), noisy(image.words, 0, WORDS - 1, 1 << line, random)
    if kind == "dead_noise":
        region = regions_of(image, ())[random.integers(len(regions_of(image, ())))]
        return kind, (Change(kind, region=region),), noisy(image.words, region.first, region.last, region.bits, random)
    chosen = [one for one in tried.changes if one.kind == kind]
    change = chosen[random.integers(len(chosen))]
    read = read_through(image, np.arange(WORDS), (change,))
    return kind, (change,), flipped(read, np.array(cells), random)


def test_probabilities_are_calibrated() -> None:
    random = np.random.default_rng(7)
    said, hits, unsure = 0.0, 0, 0.0
    for _ in range(DRAWS):
        image = Contents(random.integers(0, 16, WORDS).astype(np.uint8), WIDTH)
        kind, hypothesis, read = draw(image, random)
        every = compare(image, [Contents(read, WIDTH)]).verdict.every
        total = sum(exp(one.log_joint) for one in every)
        first = every[0]
        p = exp(first.log_joint) / total
        said, unsure = said + p, unsure + p * (1 - p)
        hits += (first.kind, first.hypothesis) == (kind, hypothesis)
    assert abs(hits - said) < 4 * unsure**0.5
    assert unsure > 10, "the draws are ambiguous enough to tell"
