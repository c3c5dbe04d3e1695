"""Weigh the fail list of a march test: which fault of a read-write memory fails at just these reads."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import log

import numpy as np

from kilter.signals.memory.candidates import regions_of
from kilter.signals.memory.changes import Change, Region
from kilter.signals.memory.contents import Contents
from kilter.signals.memory.fail_entries import Entries, Fails, Setting, entries
from kilter.signals.memory.figures import fault_classes, log_beside, log_share, number
from kilter.signals.memory.signature import PASSES, Signature, signature
from kilter.signals.memory.tallies import Tallies, log_anything, log_noise
from kilter.signals.memory.verdict import OUTSIDE, SAME, Verdict, Weighed, verdict_of

ADDRESS_KINDS = ("address_stuck_low", "address_stuck_high")
ADDRESS_PAIRS = ("address_short_and", "address_short_or")
DATA_KINDS = ("data_stuck_low", "data_stuck_high")
DATA_PAIRS = ("data_short_and", "data_short_or")
REGION_KINDS = ("dead_high", "dead_low")


def weigh_fails(fails: Fails, setting: Setting, chips: Sequence[Region] = ()) -> Verdict:
    """
    What explains a fail list.

    Args:
        fails: What failed; an empty list is a test that passed.
        setting: What was tested and how.
        chips: Where the chips of a bank sit.

    Raises:
        BadInput: The list does not belong to this memory and test.
    """
    listed = entries(fails, setting)
    whole = Contents(np.zeros(setting.words, dtype=np.uint8), setting.width)
    regions = regions_of(whole, chips)
    counts = _tallies(listed, setting, regions)
    weighed = _by_counts(listed, counts, setting, regions)
    tried = list(_changes(setting, regions, chips))
    members = {kind: sum(one.kind == kind for one in tried) for kind in {one.kind for one in tried}}
    for change in tried:
        told = signature(setting.test, change, setting.width, setting.background, by_element=fails.element is not None)
        wrong, mark = _unexplained(listed, told, setting), told.mark()
        prior = log(fault_classes()[change.kind].share / members[change.kind])
        likelihood = log_beside(wrong, len(listed.groups) * setting.words * setting.width)
        weighed.append(Weighed(change.kind, (change,), prior, likelihood, wrong, True, mark))
    return verdict_of(weighed)


def _changes(setting: Setting, regions: Sequence[Region], chips: Sequence[Region]) -> Iterator[Change]:
    for kinds, lines in ((ADDRESS_KINDS, setting.lines), (DATA_KINDS, setting.width)):
        yield from (Change(kind, (line,)) for kind in kinds for line in range(lines))
    for kinds, lines in ((ADDRESS_PAIRS, setting.lines), (DATA_PAIRS, setting.width)):
        yield from (Change(kind, pair) for kind in kinds for pair in combinations(range(lines), 2))
    yield from (Change(kind, region=region) for kind in REGION_KINDS for region in regions)
    for chip in chips if len(chips) > 1 else ():
        lines = (chip.last - chip.first).bit_length()
        yield from (Change(kind, (line,), chip) for kind in ADDRESS_KINDS for line in range(lines))


def _unexplained(listed: Entries, told: Signature, setting: Setting) -> int:
    """Bits, over all kinds of read and addresses, that fail against the signature or fail to."""
    sizes = told.sizes(setting.words)
    table = np.array([told.wrong.get(group, np.zeros(5, dtype=np.int64)) for group in listed.groups])
    slot = told.slot(listed.address)
    apart = np.bitwise_count(table[listed.group, slot] ^ listed.wrong).sum(dtype=np.int64)
    met = np.bincount(listed.group * 5 + slot, minlength=table.size).reshape(table.shape)
    return int(apart + (np.bitwise_count(table).astype(np.int64) * (sizes[None, :] - met)).sum())


def _tallies(listed: Entries, setting: Setting, regions: Sequence[Region]) -> Tallies:
    """Failed and passed bits by block and by kind of read and data line."""
    step = max(setting.words // int(number("blocks")), 1)
    bounds = {one.first for one in regions} | {one.last + 1 for one in regions}
    bounds |= {*range(0, setting.words, step), setting.words}
    edges = sorted(one for one in bounds if 0 <= one <= setting.words)
    counts = np.zeros((len(edges) - 1, len(listed.groups) * setting.width, 2, 2), dtype=np.int64)
    block = np.searchsorted(edges, listed.address, side="right") - 1
    for line in range(setting.width):
        hit = (listed.wrong >> line) & 1 == 1
        np.add.at(counts, (block[hit], listed.group[hit] * setting.width + line, 0, 1), 1)
    counts[..., 0, 0] = np.diff(edges)[:, None] - counts[..., 0, 1]
    return Tallies(tuple(edges), counts)


def _by_counts(listed: Entries, counts: Tallies, setting: Setting, regions: Sequence[Region]) -> list[Weighed]:
    share = {key: log(one.share) for key, one in fault_classes().items()}
    same = log(number("same") / (1 - number("same")))
    weighed = [
        Weighed("cells", (), share["cells"], _log_cells(listed, setting)),
        Weighed(OUTSIDE, (), share[OUTSIDE], log_anything(counts)),
        Weighed(SAME, (), same, -np.inf if len(listed.wrong) else 0.0, 0, True, PASSES),
    ]
    for region in regions:
        bits = sum(region.bits << group * setting.width for group in range(len(listed.groups)))
        noise = log_noise(counts, Region(region.first, region.last, bits))
        prior = share["dead_noise"] - log(len(regions))
        weighed.append(Weighed("dead_noise", (Change("dead_noise", region=region),), prior, noise))
    return weighed


def _log_cells(listed: Entries, setting: Setting) -> float:
    """Single cells: any few, each stuck at 0 or at 1, or failing in any pattern of reads."""
    addresses, column = np.unique(listed.address, return_inverse=True)
    wrong = np.zeros((len(listed.groups), len(addresses)), dtype=np.int64)
    wrong[listed.group, column] = listed.wrong
    bad, stuck = 0, 0
    for line in range(setting.width):
        fails = (wrong >> line & 1).astype(bool)
        ones = np.array([bool(value ^ (setting.background >> line & 1)) for _, value in listed.groups])[:, None]
        some = fails.any(axis=0)
        bad += int(some.sum())
        stuck += int((some & ((fails == ones).all(axis=0) | (fails == ~ones).all(axis=0))).sum())
    likely = number("cell_stuck")
    any_pattern = log(1 - likely) - len(listed.groups) * log(2)
    where = log_share(bad, setting.words * setting.width, number("cell_errors"))
    return where + stuck * log(likely / 2) + (bad - stuck) * any_pattern
