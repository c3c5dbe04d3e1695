"""Compare a memory's dump with the image it should hold: which fault explains the differences, and how surely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from zlib import crc32

import numpy as np

from kilter.measure.errors import BadInput
from kilter.signals.memory.candidates import candidates, insensitive, regions_of
from kilter.signals.memory.changes import Change, Region
from kilter.signals.memory.contents import Contents, agree
from kilter.signals.memory.figures import fault_classes, number
from kilter.signals.memory.tallies import (
    Tallies,
    log_anything,
    log_cells,
    log_fade,
    log_noise,
    log_wrong_image,
    tallies,
)
from kilter.signals.memory.verdict import OUTSIDE, SAME, Verdict, Weighed, verdict_of
from kilter.signals.memory.weighing import Trial, weigh_changes


@dataclass(frozen=True)
class Comparison:
    """
    What a dump tells.

    Args:
        verdict: The explanations.
        words: Words compared.
        wrong_words: Words that differ.
        counts: Bits by block, data line, image bit and dump bit.
        reads: Reads agreed.
        unstable_bits: Bits that differed between reads.
        silent: Address lines whose faults this image cannot show, and data lines that it holds constant.
        notes: What was noticed besides, in sentences.
        partial: Whether image and dump differ in length, so that only what both have was compared.
    """

    verdict: Verdict
    words: int
    wrong_words: int
    counts: Tallies
    reads: int
    unstable_bits: int
    silent: tuple[tuple[int, ...], tuple[int, ...]]
    notes: tuple[str, ...]
    partial: bool = False


def compare(
    image: Contents, reads: Sequence[Contents], *, chips: Sequence[Region] = (), erased: int = 1
) -> Comparison:
    """
    What explains that a memory does not hold, or seems not to hold, what it should.

    Args:
        image: What it should hold.
        reads: One or more dumps of the same memory.
        chips: Where its chips sit, when it is a bank of several and somebody knows.
        erased: Value of an erased bit.

    Raises:
        BadInput: No read, reads that differ in length or width, a width other than the image's.
    """
    agreed = agree(reads)
    if agreed.agreed.width != image.width:
        raise BadInput("Cannot compare a dump with its image", f"{agreed.agreed.width} and {image.width} bits a word",
                       "the same width", "Give the width of the memory once, for both.")  # fmt: skip
    stored, dump, notes = _same_length(image, agreed.agreed)
    notes += _reading_notes(agreed.number, agreed.unstable_bits)
    regions = regions_of(stored, chips)
    counts = tallies(stored, dump, regions)
    trial = Trial(stored, dump)
    every = [_same(trial), *_by_counts(counts, stored, regions, erased)]
    every += weigh_changes(trial, candidates(stored, dump, chips))
    silent, constant = insensitive(stored)
    return Comparison(
        verdict_of(every), len(stored.words), len(trial.differing), counts, agreed.number, agreed.unstable_bits,
        (tuple(silent), tuple(constant)), tuple(notes), len(image.words) != len(agreed.agreed.words),
    )  # fmt: skip


def _same_length(image: Contents, dump: Contents) -> tuple[Contents, Contents, list[str]]:
    """Image and dump cut to the shorter one, and a sentence where that was needed."""
    have, want = len(dump.words), len(image.words)
    if have == want:
        return image, dump, []
    common = min(have, want)
    notes = [f"The dump has {have} words, the image {want}: only the first {common} were compared."]
    if have > want and have % want == 0 and np.array_equal(dump.words, np.tile(dump.words[:want], have // want)):
        notes.append(f"The dump repeats itself every {want} words: it was read as a larger memory than it is.")
    if have < want:
        notes.append("A dump that is too short may have been read as a smaller memory, or cut off when it was saved.")
    return Contents(image.words[:common], image.width), Contents(dump.words[:common], dump.width), notes


def _reading_notes(reads: int, unstable: int) -> list[str]:
    if reads == 1:
        return ["Read once: whether bits change from read to read is not known. Read again and give both files."]
    if unstable:
        return [f"{unstable} bits changed between {reads} reads: weak cells, a bad contact, or a line that floats."]
    return [f"All {reads} reads agree; that says nothing about other temperatures, supplies or speeds."]


def _by_counts(counts: Tallies, image: Contents, regions: Sequence[Region], erased: int) -> list[Weighed]:
    """The classes that say how often bits are wrong, not which."""
    shares = {key: log(one.share) for key, one in fault_classes().items()}
    weighed = [
        Weighed("cells", (), shares["cells"], log_cells(counts), counts.wrong),
        Weighed("fade", (), shares["fade"], log_fade(counts, erased=erased)),
        Weighed("wrong_image", (), shares["wrong_image"], log_wrong_image(counts)),
        Weighed(OUTSIDE, (), shares[OUTSIDE], log_anything(counts)),
    ]
    everywhere = [Region(0, len(image.words) - 1, 1 << line) for line in range(image.width)]
    for line, region in enumerate(everywhere):
        change = Change("data_open", (line,))
        prior = shares["data_open"] - log(image.width)
        weighed.append(Weighed("data_open", (change,), prior, log_noise(counts, region)))
    for region in regions:
        change = Change("dead_noise", region=region)
        prior = shares["dead_noise"] - log(len(regions))
        weighed.append(Weighed("dead_noise", (change,), prior, log_noise(counts, region)))
    return weighed


def _same(trial: Trial) -> Weighed:
    """The explanation that nothing differs; impossible where a bit does."""
    likelihood = -np.inf if len(trial.differing) else 0.0
    prior = log(number("same") / (1 - number("same")))
    return Weighed(SAME, (), prior, likelihood, 0, True, crc32(trial.image.words.tobytes()))
