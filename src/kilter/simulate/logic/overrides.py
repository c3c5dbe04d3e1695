"""Where defects bite: per reader, per driver and per net, which hypotheses change what to which value."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from kilter.measure.errors import BadInput
from kilter.simulate.logic.defects import (
    Bridge,
    Dead,
    Defect,
    NetStuck,
    PinOpen,
    PinStuck,
    signal_pins,
    supply_pins,
)
from kilter.simulate.logic.families import family_of
from kilter.simulate.logic.faults import OUTPUT, STEM, StuckAt, check_line
from kilter.simulate.logic.netlist import LogicNetlist, Place
from kilter.simulate.logic.planes import PLANES, Planes

Key = TypeVar("Key", Place, str)

Changes = dict[int, str]
"""Hypothesis number to the value '0', '1', 'Z' or 'X'."""


@dataclass
class Overrides:
    """Changes by place; bridges as net to (hypothesis, other net, winner as that net sees it)."""

    reads: dict[Place, Changes] = field(default_factory=dict)
    drives: dict[Place, Changes] = field(default_factory=dict)
    nets: dict[str, Changes] = field(default_factory=dict)
    shown: dict[str, Changes] = field(default_factory=dict)
    bridges: dict[str, list[tuple[int, str, str]]] = field(default_factory=dict)


def apply(planes: Planes, changes: Changes | None) -> Planes:
    """The planes, shape (2, hypotheses, words), with whole hypotheses set to a value."""
    if not changes:
        return planes
    changed = planes.copy()
    for hypothesis, value in changes.items():
        changed[:, hypothesis] = np.array(PLANES[value])[:, None]
    return changed


def overrides(netlist: LogicNetlist, hypotheses: Sequence[Iterable[Defect]]) -> Overrides:
    """
    Every defect of every hypothesis at its place.

    Two defects of one hypothesis that want different values at one place leave it unknown.

    Raises:
        BadInput: A defect finds nothing to bite on, which would else look like a healthy board.
    """
    found = Overrides()
    for number, hypothesis in enumerate(hypotheses):
        for one in hypothesis:
            _add(found, netlist, number, one)
    return found


def _add(found: Overrides, netlist: LogicNetlist, number: int, one: Defect) -> None:
    match one:
        case NetStuck(net, value):
            _check_nets(netlist, one, net)
            _set(found.nets, net, number, value)
        case Bridge(first, second, winner):
            _check_nets(netlist, one, first, second)
            seen = {"first": ("own", "other"), "second": ("other", "own")}.get(winner, (winner, winner))
            found.bridges.setdefault(first, []).append((number, second, seen[0]))
            found.bridges.setdefault(second, []).append((number, first, seen[1]))
        case StuckAt():
            check_line(netlist, one)
            _add_stuck_line(found, number, one)
        case Dead(part, outputs):
            places = _outputs(netlist, part)
            _check_bite(netlist, one, bool(part and places))
            for place in places:
                _set(found.drives, place, number, outputs)
        case PinStuck():
            _add_stuck_pin(found, netlist, number, one)
        case PinOpen():
            _add_open(found, netlist, number, one)


def _set(table: dict[Key, Changes], key: Key, number: int, value: str) -> None:
    changes = table.setdefault(key, {})
    changes[number] = value if changes.get(number, value) == value else "X"


def _check_nets(netlist: LogicNetlist, one: Defect, *nets: str) -> None:
    _check_bite(netlist, one, len(set(nets)) == len(nets) and all(net in netlist.readers for net in nets))


def _check_bite(netlist: LogicNetlist, one: Defect, bites: bool) -> None:
    if not bites:
        raise BadInput(
            f"Cannot place a defect in the logic netlist {netlist.name}",
            f"{one}, which touches nothing there",
            "parts, pins and nets of the netlist",
            "Take faults from kilter.simulate.logic.modes.",
        )


def _add_stuck_line(found: Overrides, number: int, one: StuckAt) -> None:
    line, value = one.line, str(one.value)
    if line.gate == STEM:
        _set(found.nets, line.net, number, value)
    elif line.gate == OUTPUT:
        _set(found.shown, line.net, number, value)
    else:
        _set(found.reads, ("gate", line.gate, str(line.position)), number, value)


def _add_stuck_pin(found: Overrides, netlist: LogicNetlist, number: int, one: PinStuck) -> None:
    readers, drivers = _readers(netlist, one.part, one.pin), _drivers(netlist, one.part, one.pin)
    _check_bite(netlist, one, bool(one.part and one.pin and (readers or drivers)))
    for place in readers:
        _set(found.reads, place, number, one.value)
    if drivers:
        _set(found.nets, signal_pins(netlist, one.part)[one.pin], number, one.value)


def _add_open(found: Overrides, netlist: LogicNetlist, number: int, one: PinOpen) -> None:
    family = family_of(netlist.chips, one.part)
    readers, drivers = _readers(netlist, one.part, one.pin), _drivers(netlist, one.part, one.pin)
    unsupplied = _outputs(netlist, one.part) if one.pin in supply_pins(netlist, one.part) else []
    _check_bite(netlist, one, bool(one.part and one.pin and (readers or drivers or unsupplied)))
    for place in unsupplied:
        _set(found.drives, place, number, family.unsupplied)
    for place in readers:
        _set(found.reads, place, number, family.open_input)
    for place in drivers:
        _set(found.drives, place, number, "Z")


def _outputs(netlist: LogicNetlist, part: str) -> list[Place]:
    """Drivers of a part that a pin leads out of the chip; all of its drivers where no output pin is known."""
    pins = netlist.pin_drivers.get(part, {})
    led_out = [place for pin, places in pins.items() if pin for place in places]
    return led_out or [place for places in pins.values() for place in places]


def _drivers(netlist: LogicNetlist, part: str, pin: str) -> list[Place]:
    return list(netlist.pin_drivers.get(part, {}).get(pin, ()))


def _readers(netlist: LogicNetlist, part: str, pin: str) -> list[Place]:
    """What sees the net of a pin through that pin."""
    return list(netlist.pin_readers.get((part, pin), ()))
