"""Where defects bite: per reader, per driver and per net, which hypotheses change what to which value."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

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
from kilter.simulate.logic.faults import OUTPUT, STEM, StuckAt
from kilter.simulate.logic.netlist import LogicNetlist
from kilter.simulate.logic.planes import PLANES, Planes

Place = tuple[str, int, str]
"""('gate', index, input position as text or 'output') or ('register', index, role)."""

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
    """Every defect of every hypothesis at its place; defects are checked where their names are made."""
    found = Overrides()
    for number, hypothesis in enumerate(hypotheses):
        for one in hypothesis:
            _add(found, netlist, number, one)
    return found


def _add(found: Overrides, netlist: LogicNetlist, number: int, one: Defect) -> None:
    match one:
        case NetStuck(net, value):
            found.nets.setdefault(net, {})[number] = value
        case Bridge(first, second, winner):
            seen = {"first": ("own", "other"), "second": ("other", "own")}.get(winner, (winner, winner))
            found.bridges.setdefault(first, []).append((number, second, seen[0]))
            found.bridges.setdefault(second, []).append((number, first, seen[1]))
        case StuckAt():
            _add_stuck_line(found, number, one)
        case Dead(part, outputs):
            for place in _outputs(netlist, part):
                found.drives.setdefault(place, {})[number] = outputs
        case PinStuck(part, pin, value):
            for place in _readers(netlist, part, pin):
                found.reads.setdefault(place, {})[number] = value
            if any(True for _ in _drivers(netlist, part, pin)):
                found.nets.setdefault(signal_pins(netlist, part)[pin], {})[number] = value
        case PinOpen(part, pin):
            _add_open(found, netlist, number, part, pin)


def _add_stuck_line(found: Overrides, number: int, one: StuckAt) -> None:
    line, value = one.line, str(one.value)
    if line.gate == STEM:
        found.nets.setdefault(line.net, {})[number] = value
    elif line.gate == OUTPUT:
        found.shown.setdefault(line.net, {})[number] = value
    else:
        found.reads.setdefault(("gate", line.gate, str(line.position)), {})[number] = value


def _add_open(found: Overrides, netlist: LogicNetlist, number: int, part: str, pin: str) -> None:
    family = family_of(netlist.chips, part)
    if pin in supply_pins(netlist, part):
        for place in _outputs(netlist, part):
            found.drives.setdefault(place, {})[number] = family.unsupplied
    for place in _readers(netlist, part, pin):
        found.reads.setdefault(place, {})[number] = family.open_input
    for place in _drivers(netlist, part, pin):
        found.drives.setdefault(place, {})[number] = "Z"


def _outputs(netlist: LogicNetlist, part: str) -> list[Place]:
    """Drivers of a part that a pin leads out of the chip; all of its drivers where no output pin is known."""
    every = [(place, pin) for place, owner, pin in _all_drivers(netlist) if owner == part]
    led_out = [place for place, pin in every if pin]
    return led_out or [place for place, _ in every]


def _drivers(netlist: LogicNetlist, part: str, pin: str) -> Iterable[Place]:
    return (place for place, owner, own_pin in _all_drivers(netlist) if (owner, own_pin) == (part, pin))


def _all_drivers(netlist: LogicNetlist) -> Iterable[tuple[Place, str, str]]:
    """(place, part, pin) of everything that drives a net."""
    for index, gate in enumerate(netlist.gates):
        yield ("gate", index, "output"), gate.part, gate.output_pin
    for index, register in enumerate(netlist.registers):
        for role in register.drives():
            yield ("register", index, role), register.part, register.pins.get(role, "")


def _readers(netlist: LogicNetlist, part: str, pin: str) -> Iterable[Place]:
    for index, gate in enumerate(netlist.gates):
        if gate.part == part:
            for position in range(len(gate.inputs)):
                if gate.pin(position) == pin:
                    yield "gate", index, str(position)
    for index, register in enumerate(netlist.registers):
        if register.part == part:
            for role in register.reads():
                if register.pins.get(role) == pin:
                    yield "register", index, role
