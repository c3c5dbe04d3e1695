"""
Two descriptions of one board, compared pin by pin.

Nets are compared by the pins they join, never by their names: a net that one file splits or joins is a difference,
another spelling is none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum

from kilter.importers.description import Description
from kilter.importers.part_values import number_of

Pin = tuple[str, str]
KINDS = {"R": "resistor", "C": "capacitor", "L": "inductor"}
SHOWN = 6
"""Pins named in a sentence."""


class Sort(Enum):
    """What differs."""

    ONLY_FIRST = "part only in the first"
    ONLY_SECOND = "part only in the second"
    VALUE = "value"
    PIN = "pin connected in one only"
    SPLIT = "one net of the first is several of the second"
    JOINED = "several nets of the first are one of the second"


@dataclass(frozen=True, slots=True)
class Difference:
    """
    One difference.

    Args:
        sort: What differs.
        subject: The part, the pin or the net.
        first: What the first description has.
        second: What the second one has.
    """

    sort: Sort
    subject: str
    first: tuple[str, ...] = ()
    second: tuple[str, ...] = ()


@dataclass(frozen=True)
class Comparison:
    """
    Two descriptions side by side.

    Args:
        first: File of the first.
        second: File of the second.
        differences: Parts first, then values, pins and nets.
        compared: Pins that both have.
        agreeing: Those of them whose net joins the same pins in both.
    """

    first: str
    second: str
    differences: tuple[Difference, ...]
    compared: int
    agreeing: int

    def sentences(self) -> list[str]:
        """One sentence for each difference."""
        return [_sentence(one, self.first, self.second) for one in self.differences]


def compare(first: Description, second: Description) -> Comparison:
    """What two descriptions of one board say differently."""
    mine, other = _pins(first), _pins(second)
    common = [pin for pin in mine if pin in other]
    groups = [_groups(common, pins) for pins in (mine, other)]
    agreeing = sum(groups[0][mine[pin]] == groups[1][other[pin]] for pin in common)
    differences = (*_parts(first, second), *_values(first, second), *_ends(first, second, mine, other),
                   *_nets(common, mine, other))  # fmt: skip
    return Comparison(first.file, second.file, differences, len(common), agreeing)


def _pins(description: Description) -> dict[Pin, str]:
    return {(ref, pin): net for net, pins in description.nets().items() for ref, pin in pins}


def _groups(common: list[Pin], nets: Mapping[Pin, str]) -> dict[str, set[Pin]]:
    found: dict[str, set[Pin]] = {}
    for pin in common:
        found.setdefault(nets[pin], set()).add(pin)
    return found


def _parts(first: Description, second: Description) -> Iterator[Difference]:
    for ref, part in first.parts.items():
        if ref not in second.parts:
            yield Difference(Sort.ONLY_FIRST, ref, (part.value,))
    for ref, part in second.parts.items():
        if ref not in first.parts:
            yield Difference(Sort.ONLY_SECOND, ref, (), (part.value,))


def _values(first: Description, second: Description) -> Iterator[Difference]:
    if not (first.has_values and second.has_values):
        return
    for ref, part in first.parts.items():
        other = second.parts.get(ref)
        if other is not None and not _same_value(ref, part.value, other.value):
            yield Difference(Sort.VALUE, ref, (part.value,), (other.value,))


def _same_value(ref: str, one: str, other: str) -> bool:
    if one.strip().casefold() == other.strip().casefold():
        return True
    kind = KINDS.get(ref[:1].upper(), "")
    number = number_of(kind, one)
    return number is not None and number == number_of(kind, other)


def _ends(
    first: Description, second: Description, mine: Mapping[Pin, str], other: Mapping[Pin, str]
) -> Iterator[Difference]:
    for ref, pin in mine:
        if ref in second.parts and (ref, pin) not in other:
            yield Difference(Sort.PIN, f"{ref}.{pin}", (mine[ref, pin],))
    for ref, pin in other:
        if ref in first.parts and (ref, pin) not in mine:
            yield Difference(Sort.PIN, f"{ref}.{pin}", (), (other[ref, pin],))


def _nets(common: list[Pin], mine: Mapping[Pin, str], other: Mapping[Pin, str]) -> Iterator[Difference]:
    for net, pins in _groups(common, mine).items():
        others = _groups(sorted(pins), other)
        if len(others) > 1:
            yield Difference(Sort.SPLIT, net, (net,), _listed_nets(others))
    for net, pins in _groups(common, other).items():
        others = _groups(sorted(pins), mine)
        if len(others) > 1:
            yield Difference(Sort.JOINED, net, _listed_nets(others), (net,))


def _listed_nets(nets: Mapping[str, set[Pin]]) -> tuple[str, ...]:
    return tuple(f"{name} ({_listed(pins)})" for name, pins in nets.items())


def _listed(pins: set[Pin]) -> str:
    names = [f"{ref}.{pin}" for ref, pin in sorted(pins)]
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    return ", ".join(names[:SHOWN]) + more


def _sentence(one: Difference, first: str, second: str) -> str:
    match one.sort:
        case Sort.ONLY_FIRST:
            return f"{one.subject} ({one.first[0] or 'no value'}) is in {first} but not in {second}."
        case Sort.ONLY_SECOND:
            return f"{one.subject} ({one.second[0] or 'no value'}) is in {second} but not in {first}."
        case Sort.VALUE:
            return f"{one.subject} is '{one.first[0]}' in {first} and '{one.second[0]}' in {second}."
        case Sort.PIN if one.first:
            return f"The pin {one.subject} is on {one.first[0]} in {first} and on no net in {second}."
        case Sort.PIN:
            return f"The pin {one.subject} is on {one.second[0]} in {second} and on no net in {first}."
        case Sort.SPLIT:
            return f"The net {one.subject} of {first} is in {second} the nets {'; '.join(one.second)}."
        case Sort.JOINED:
            return f"The net {one.subject} of {second} is in {first} the nets {'; '.join(one.first)}."
