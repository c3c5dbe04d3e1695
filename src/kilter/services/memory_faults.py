"""Name the fault of a memory from its dump or its march test, and say which parts it speaks for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kilter.measure.errors import BadInput
from kilter.signals.memory.bank import Bank
from kilter.signals.memory.changes import Change, Region
from kilter.signals.memory.comparison import Comparison, compare
from kilter.signals.memory.contents import Contents
from kilter.signals.memory.fail_entries import Fails, Setting
from kilter.signals.memory.fail_list import weigh_fails
from kilter.signals.memory.figures import fault_classes
from kilter.signals.memory.march import MarchTest
from kilter.signals.memory.part_evidence import Mode, evidence_factors, places
from kilter.signals.memory.verdict import SAME, Finding, Verdict, Weighed

NOTHING_DIFFERS = "no difference seen"
MORE_READS = "That holds for what was compared or tested, at this temperature, supply and speed only."


@dataclass(frozen=True)
class NamedFault:
    """
    One explanation in words.

    Args:
        words: What is wrong.
        kind: Key of its fault class.
        probability: Of this explanation.
        wrong: Bits that it leaves unexplained; None where it names no single bit.
        next: What to do to confirm it.
        parts: Part and pins at which to look.
        tied: Numbers, from 1, of the explanations that cannot be told from this one.
    """

    words: str
    kind: str
    probability: float
    wrong: float | None
    next: str
    parts: tuple[tuple[str, tuple[str, ...]], ...]
    tied: tuple[int, ...]


@dataclass(frozen=True)
class MemoryReport:
    """
    What is wrong with a memory, as far as it can be told.

    Args:
        faults: Explanations worth naming, likeliest first.
        rest: Probability of those not named.
        not_in_model: Probability that it is none of these.
        notes: What was noticed, and what was not tested.
        factors: Log likelihood ratio for each (part, mode), to be given to the weigher; empty without a bank.
        comparison: The counts behind it, for a dump.
    """

    faults: tuple[NamedFault, ...]
    rest: float
    not_in_model: float
    notes: tuple[str, ...]
    factors: dict[Mode, float]
    comparison: Comparison | None = None

    @property
    def answered(self) -> bool:
        """Whether all was compared and something that it knows is likelier than that it is none of these."""
        return self.not_in_model < 0.5 and not (self.comparison and self.comparison.partial)


def explain_dump(
    image: Contents, reads: Sequence[Contents], *, bank: Bank | None = None, chip: str = "", erased: int = 1
) -> MemoryReport:
    """
    What explains the difference between what a memory holds and what it should.

    Args:
        image: What it should hold.
        reads: One or more dumps of it.
        bank: Where its chips sit.
        chip: The one chip of the bank that was read, out of its board; '' where the whole bank was.
        erased: Value of an erased bit.

    Raises:
        BadInput: Reads, image and bank do not fit each other.
    """
    seen = as_read(bank, chip)
    if seen:
        _check_fit(seen, len(image.words), image.width)
    found = compare(image, reads, chips=seen.regions if seen else (), erased=erased)
    notes = (*found.notes, *_untested(found))
    return _report(found.verdict, seen, notes, unstable=found.unstable_bits > 0, comparison=found)


def explain_fails(fails: Fails, setting: Setting, *, bank: Bank | None = None, chip: str = "") -> MemoryReport:
    """
    What explains the fails of a march test.

    Raises:
        BadInput: The fails do not belong to this test and memory, or the bank is another one.
    """
    seen = as_read(bank, chip)
    if seen:
        _check_fit(seen, setting.words, setting.width)
    verdict = weigh_fails(fails, setting, seen.regions if seen else ())
    return _report(verdict, seen, tuple(_march_notes(setting)))


def as_read(bank: Bank | None, chip: str) -> Bank | None:
    """
    The bank as the reader saw it.

    Raises:
        BadInput: The chip is not in the bank, or there is none.
    """
    if not chip:
        return bank
    names = [one.ref for one in bank.chips] if bank else []
    if bank is None or chip not in names:
        raise BadInput("Cannot find the chip that was read", f"'{chip}'", ", ".join(names) or "none: no bank was given",
                       "Use a name from the bank file.")  # fmt: skip
    return bank.alone(chip)


def _check_fit(bank: Bank, words: int, width: int) -> None:
    if (bank.words, bank.width) != (words, width):
        raise BadInput("Cannot place the contents in the bank", f"{words} words of {width} bits",
                       f"{bank.words} words of {bank.width} bits, as the bank has",
                       "Correct the bank or the width; name the chip where only one was read.")  # fmt: skip


def _report(
    verdict: Verdict, bank: Bank | None, notes: tuple[str, ...], *, unstable: bool = False,
    comparison: Comparison | None = None,
) -> MemoryReport:  # fmt: skip
    tied = {at: group for group in verdict.ties for at in group}
    faults = tuple(
        _named(one, bank, tuple(other + 1 for other in tied.get(at, ()) if other != at))
        for at, one in enumerate(verdict.findings)
    )
    factors = evidence_factors(verdict, bank, unstable=unstable) if bank else {}
    return MemoryReport(faults, verdict.rest, verdict.not_in_model, notes, factors, comparison)


def _named(one: Finding, bank: Bank | None, tied: tuple[int, ...]) -> NamedFault:
    told = one.explanation
    where = tuple((place.part, place.pins) for place in places(told, bank)) if bank else ()
    return NamedFault(in_words(told), told.kind, one.probability, told.wrong, _advice(told), where, tied)


def in_words(one: Weighed) -> str:
    """
    An explanation for people.

    >>> in_words(Weighed("address_swap", (Change("address_swap", (3, 4)),), 0.0, 0.0))
    'address lines A3 and A4 swapped'
    """
    if one.kind == SAME:
        return NOTHING_DIFFERS
    return "; ".join(_change_words(change) for change in one.hypothesis or (Change(one.kind),))


def _change_words(change: Change) -> str:
    words = fault_classes()[change.kind].words
    if change.region is None:
        return words.format(*change.lines)
    place = _region_words(change.region)
    return words.format(*(change.lines or (place,))) + (f" at {place}" if change.lines else "")


def _region_words(region: Region) -> str:
    lines = [line for line in range(region.bits.bit_length()) if region.bits >> line & 1]
    data = f"D{lines[0]}" if len(lines) == 1 else f"D{lines[0]} to D{lines[-1]}"
    span = f"addresses {region.first:#x} to {region.last:#x}, {data}"
    return f"{region.name} ({span})" if region.name else span


def _advice(one: Weighed) -> str:
    if one.kind == SAME:
        return MORE_READS
    changes = one.hypothesis or (Change(one.kind),)
    return " ".join(dict.fromkeys(fault_classes()[one.kind].next.format(*one.lines) for one in changes))


def _untested(found: Comparison) -> Iterator[str]:
    """What this image could not have shown."""
    addresses, data = found.silent
    if addresses:
        lines = ", ".join(f"A{line}" for line in addresses)
        yield f"Not tested: the image is the same for both states of {lines}, so faults there cannot show."
    if data:
        yield "Not tested in full: the image never changes on " + ", ".join(f"D{line}" for line in data) + "."


def _march_notes(setting: Setting) -> Iterator[str]:
    yield "A march test says nothing about other temperatures and supplies, nor about contents lost over time."
    if setting.width > 1:
        yield ("A background shows shorts only between data lines to which it gives different values: for eight lines "
               "repeat the test with 0x55, 0x33 and 0x0F.")  # fmt: skip


def listing(test: MarchTest, *, width: int = 8, background: int = 0) -> list[str]:
    """
    A march test as plain steps that do not depend on any machine.

    Args:
        test: The test.
        width: Data lines.
        background: Word that stands for 0.

    Raises:
        BadInput: A background that does not fit the width.
    """
    setting = Setting(test, 4, width, background)
    mask = (1 << width) - 1
    digits = (width + 3) // 4
    lines = ["This test overwrites the whole memory: read out and keep what it holds first."]
    ways = {"up": "from the lowest address to the highest", "down": "from the highest address to the lowest",
            "either": "in either direction"}  # fmt: skip
    for at, element in enumerate(setting.test.elements):
        steps = ", then ".join(
            ("write" if one.write else "read and expect") + f" 0x{background ^ (mask if one.value else 0):0{digits}X}"
            for one in element.operations
        )
        lines.append(f"Element {at}, {ways[element.order]}; at each address: {steps}.")
    return lines
