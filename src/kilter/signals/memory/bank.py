"""A bank of memory chips: which part drives which data lines in which addresses, and by which pins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kilter.signals.memory.changes import Region


@dataclass(frozen=True, slots=True)
class Chip:
    """
    One memory chip.

    Args:
        ref: Its part reference.
        first: First address of the bank at which it answers.
        last: Last one.
        lines: Data lines of the bank that it drives, in the order of its data pins.
        address_pins: Its pins for A0, A1, ...; may be short or empty where nobody wrote them down.
        data_pins: Its pins for those lines.
        select_pins: Its select and output enable pins.
        supply_pins: Its supply and ground pins.
    """

    ref: str
    first: int
    last: int
    lines: tuple[int, ...]
    address_pins: tuple[str, ...] = ()
    data_pins: tuple[str, ...] = ()
    select_pins: tuple[str, ...] = ()
    supply_pins: tuple[str, ...] = ()

    @property
    def region(self) -> Region:
        """Where it answers."""
        return Region(self.first, self.last, sum(1 << line for line in self.lines), self.ref)

    def pins_of(self, kind: str, line: int) -> tuple[str, ...]:
        """The pin of an address line ('address_...') or of a data line of the bank; none where it is not known."""
        if kind.startswith("address"):
            return self.address_pins[line : line + 1]
        at = self.lines.index(line) if line in self.lines else len(self.data_pins)
        return self.data_pins[at : at + 1]


@dataclass(frozen=True, slots=True)
class Driver:
    """A part that drives address or data lines of the bank: line number to its pin."""

    ref: str
    address: Mapping[int, str] = field(default_factory=dict)
    data: Mapping[int, str] = field(default_factory=dict)

    def pins_of(self, kind: str, line: int) -> tuple[str, ...]:
        """Its pin for the line, if it drives it."""
        pins = self.address if kind.startswith("address") else self.data
        return (pins[line],) if line in pins else ()


@dataclass(frozen=True, slots=True)
class Bank:
    """Chips and drivers of one bank of `words` words of `width` bits."""

    words: int
    width: int
    chips: tuple[Chip, ...] = ()
    drivers: tuple[Driver, ...] = ()

    @property
    def regions(self) -> tuple[Region, ...]:
        """Where the chips answer."""
        return tuple(chip.region for chip in self.chips)

    def alone(self, ref: str) -> Bank:
        """The bank that a reader sees when one chip is read out of its board: that chip from address 0, no drivers."""
        chip = next(one for one in self.chips if one.ref == ref)
        lines = tuple(range(len(chip.lines)))
        moved = Chip(ref, 0, chip.last - chip.first, lines, chip.address_pins, chip.data_pins, chip.select_pins,
                     chip.supply_pins)  # fmt: skip
        return Bank(chip.last - chip.first + 1, len(lines), (moved,))
