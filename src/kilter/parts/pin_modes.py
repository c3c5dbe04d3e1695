"""Failure modes at single pins of a digital chip: stuck low, stuck high, bridged to a neighbour."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from kilter.parts.catalogue import CataloguePin, find_type
from kilter.records.part import Part

OUTPUT_WEIGHT = {"out": 2.0, "both": 2.0, "in": 1.0}
"""How readily a pin sticks, by direction; see `at_pins` in data/part_kinds.toml."""

STUCK_WORDS = {"stuck_low": "stuck low", "stuck_high": "stuck high"}


def signal_pins(part: Part) -> dict[str, CataloguePin]:
    """The connected signal pins of a digital chip by number; none where the catalogue does not know it."""
    if not any(pin.isdigit() for pin in part.pins):
        return {}
    kind = find_type(part.value)
    if kind is None or not kind.technology:
        return {}
    return {pin: kind.pins[pin] for pin in part.pins if pin in kind.pins and kind.pins[pin].direction in OUTPUT_WEIGHT}


def stuck_weights(pins: Mapping[str, CataloguePin]) -> dict[str, float]:
    """Pin to its share of the odds that one of them is stuck; the shares add up to one."""
    weights = {number: OUTPUT_WEIGHT[pin.direction] for number, pin in pins.items()}
    total = sum(weights.values())
    return {number: weight / total for number, weight in weights.items()}


def neighbours(part: Part, pins: Mapping[str, CataloguePin]) -> list[tuple[str, str]]:
    """Signal pins side by side on different nets."""
    order = sorted(pins, key=int)
    beside = [(one, other) for one, other in pairwise(order) if int(other) == int(one) + 1]
    half = max((int(number) for number in part.pins if number.isdigit()), default=0) // 2
    return [pair for pair in beside if part.pins[pair[0]] != part.pins[pair[1]] and int(pair[0]) != half]
