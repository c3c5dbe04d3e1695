"""The logic netlist: gates, registers and the chips they live in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from kilter.measure.errors import BadInput

BOOLEAN_KINDS = frozenset({"and", "nand", "or", "nor", "xor", "xnor", "not", "buf", "zero", "one"})
"""Gates that always drive their output high or low."""

BUS_KINDS = frozenset({"tri", "tri_low", "open_collector"})
"""Gates that can let go of their output: (data, enable), (data, active-low enable), (data)."""

INPUT_COUNTS = {"zero": 0, "one": 0, "not": 1, "buf": 1, "tri": 2, "tri_low": 2, "open_collector": 1}
"""Gate kinds with a fixed number of inputs; the others take one or more."""


Place = tuple[str, int, str]
"""('gate', index, input position as text or 'output') or ('register', index, role)."""


@dataclass(frozen=True, slots=True)
class Gate:
    """
    One gate, and where on which chip it sits.

    Args:
        kind: One of BOOLEAN_KINDS or BUS_KINDS.
        inputs: Nets read, in order.
        output: Net driven.
        part: Reference of the chip; '' where no chip is known.
        pins: Chip pin of each input, '' for a node inside the chip; may be left out as a whole.
        output_pin: Chip pin of the output, '' for a node inside the chip.
    """

    kind: str
    inputs: tuple[str, ...]
    output: str
    part: str = ""
    pins: tuple[str, ...] = ()
    output_pin: str = ""

    def pin(self, position: int) -> str:
        """Chip pin of one input, '' where none is known."""
        return self.pins[position] if self.pins else ""


@dataclass(frozen=True, slots=True)
class Register:
    """
    One flip-flop or transparent latch.

    Args:
        kind: 'dff' (takes the data on a clock edge) or 'latch' (follows the data while its enable is high).
        data: Net read.
        output: Net driven.
        clock: Clock or enable net; '' for a flip-flop that is clocked once at the end of every step.
        falling: The clock edge, or the enable, is active low.
        clear: Net that forces 0 while it is low; '' for none.
        preset: Net that forces 1 while it is low; '' for none.
        inverse: Net that carries the inverted output; '' for none.
        start: Value before the first step: '0', '1' or 'X'.
        part: Reference of the chip.
        pins: Chip pin by role: data, clock, clear, preset, output, inverse.
    """

    kind: str
    data: str
    output: str
    clock: str = ""
    falling: bool = False
    clear: str = ""
    preset: str = ""
    inverse: str = ""
    start: str = "X"
    part: str = ""
    pins: Mapping[str, str] = field(default_factory=dict)

    def reads(self) -> dict[str, str]:
        """Role to net, for the nets it reads."""
        every = {"data": self.data, "clock": self.clock, "clear": self.clear, "preset": self.preset}
        return {role: net for role, net in every.items() if net}

    def drives(self) -> dict[str, str]:
        """Role to net, for the nets it drives."""
        return {role: net for role, net in (("output", self.output), ("inverse", self.inverse)) if net}


@dataclass(frozen=True, slots=True)
class Chip:
    """Family (a key of the logic families data) and supply pins of one part."""

    part: str
    family: str = "ttl"
    supply: tuple[str, ...] = ()
    ground: tuple[str, ...] = ()


@dataclass(frozen=True)
class LogicNetlist:
    """
    Gates and registers between named nets.

    A net without a driver is allowed: it floats. A net with several drivers is a bus.

    Args:
        gates: In any order; loops through gates are allowed here, each engine says what it takes.
        inputs: Nets driven from outside.
        outputs: Nets that are looked at, in order, each once.
        registers: Flip-flops and latches.
        chips: What is known of each part, by reference.
        pulls: Net to '0' or '1' for a net with a pull-down or pull-up resistor.
        name: Title for people.
    """

    gates: tuple[Gate, ...]
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    registers: tuple[Register, ...] = ()
    chips: Mapping[str, Chip] = field(default_factory=dict)
    pulls: Mapping[str, str] = field(default_factory=dict)
    name: str = "logic"

    def __post_init__(self) -> None:
        for gate in self.gates:
            _check_gate(gate, self.name)
        for nets, what in ((self.inputs, "an input"), (self.outputs, "an output")):
            if len(set(nets)) < len(nets):
                twice = next(net for net in nets if nets.count(net) > 1)
                raise BadInput(
                    f"Cannot use the logic netlist {self.name}",
                    f"net '{twice}' named twice as {what}",
                    "each net once",
                    "Remove the second mention.",
                )

    @cached_property
    def nets(self) -> tuple[str, ...]:
        """Every net once: inputs, then gate outputs, register outputs, and whatever is only read."""
        found = dict.fromkeys(self.inputs)
        found.update(dict.fromkeys(gate.output for gate in self.gates))
        for register in self.registers:
            found.update(dict.fromkeys(register.drives().values()))
        found.update(dict.fromkeys(net for gate in self.gates for net in gate.inputs))
        for register in self.registers:
            found.update(dict.fromkeys(register.reads().values()))
        found.update(dict.fromkeys(self.outputs))
        return tuple(found)

    @cached_property
    def readers(self) -> Mapping[str, tuple[tuple[int, int], ...]]:
        """Net to the (gate index, input position) pairs that read it."""
        found: dict[str, list[tuple[int, int]]] = {net: [] for net in self.nets}
        for index, gate in enumerate(self.gates):
            for position, net in enumerate(gate.inputs):
                found[net].append((index, position))
        return {net: tuple(places) for net, places in found.items()}

    @cached_property
    def drivers(self) -> Mapping[str, tuple[int, ...]]:
        """Net to the indices of the gates that drive it."""
        found: dict[str, list[int]] = {net: [] for net in self.nets}
        for index, gate in enumerate(self.gates):
            found[gate.output].append(index)
        return {net: tuple(indices) for net, indices in found.items()}

    @cached_property
    def pin_readers(self) -> Mapping[tuple[str, str], tuple[Place, ...]]:
        """(Part, pin) to what sees the net of the pin through that pin."""
        found: dict[tuple[str, str], list[Place]] = {}
        for index, gate in enumerate(self.gates):
            for position in range(len(gate.inputs)):
                found.setdefault((gate.part, gate.pin(position)), []).append(("gate", index, str(position)))
        for index, register in enumerate(self.registers):
            for role in register.reads():
                found.setdefault((register.part, register.pins.get(role, "")), []).append(("register", index, role))
        return {pin: tuple(places) for pin, places in found.items()}

    @cached_property
    def pin_drivers(self) -> Mapping[str, Mapping[str, tuple[Place, ...]]]:
        """Part to pin to what drives the net of that pin; pin '' for nodes inside the chip."""
        found: dict[str, dict[str, list[Place]]] = {}
        for index, gate in enumerate(self.gates):
            found.setdefault(gate.part, {}).setdefault(gate.output_pin, []).append(("gate", index, "output"))
        for index, register in enumerate(self.registers):
            for role in register.drives():
                pin = register.pins.get(role, "")
                found.setdefault(register.part, {}).setdefault(pin, []).append(("register", index, role))
        return {part: {pin: tuple(places) for pin, places in pins.items()} for part, pins in found.items()}

    @cached_property
    def signal_pins(self) -> Mapping[str, Mapping[str, str]]:
        """Part to pin to net, of every pin that a gate or register has; pin numbers in order."""
        found: dict[str, dict[str, str]] = {}
        for gate in self.gates:
            found.setdefault(gate.part, {}).update(zip(gate.pins, gate.inputs, strict=False))
            found[gate.part][gate.output_pin] = gate.output
        for register in self.registers:
            nets = register.reads() | register.drives()
            own = {pin: nets[role] for role, pin in register.pins.items() if role in nets}
            found.setdefault(register.part, {}).update(own)
        return {
            part: {pin: pins[pin] for pin in sorted(filter(None, pins), key=_natural)} for part, pins in found.items()
        }

    def combinational(self) -> LogicNetlist:
        """The logic between the registers: register outputs become inputs, what registers read become outputs."""
        driven = [net for register in self.registers for net in register.drives().values()]
        read = [net for register in self.registers for net in register.reads().values()]
        return replace(
            self,
            registers=(),
            inputs=tuple(dict.fromkeys([*self.inputs, *driven])),
            outputs=tuple(dict.fromkeys([*self.outputs, *read])),
        )


def _natural(pin: str) -> tuple[bool, str]:
    return pin.isdigit(), pin.zfill(8)


def _check_gate(gate: Gate, name: str) -> None:
    doing = f"Cannot use the gate that drives net '{gate.output}' of the logic netlist {name}"
    if gate.kind not in BOOLEAN_KINDS | BUS_KINDS:
        allowed = ", ".join(sorted(BOOLEAN_KINDS | BUS_KINDS))
        raise BadInput(doing, f"the gate kind '{gate.kind}'", allowed, "Use one of these kinds.")
    wanted = INPUT_COUNTS.get(gate.kind)
    if wanted is None and not gate.inputs:
        raise BadInput(doing, f"no inputs on a gate of kind '{gate.kind}'", "one or more", "Name its inputs.")
    if wanted is not None and len(gate.inputs) != wanted:
        found = f"{len(gate.inputs)} inputs on a gate of kind '{gate.kind}'"
        raise BadInput(doing, found, f"exactly {wanted}", "Name the inputs in the order the kind asks for.")
    if gate.pins and len(gate.pins) != len(gate.inputs):
        found = f"{len(gate.pins)} pin names for {len(gate.inputs)} inputs"
        raise BadInput(doing, found, "one pin name for each input, or none at all", "Use '' for an inner node.")
