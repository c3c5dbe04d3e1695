"""Gates and registers of one chip, from its catalogue type and the nets on its pins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kilter.parts.catalogue import CatalogueType, Equation, Expression
from kilter.simulate.logic.netlist import Gate, Register

UNKNOWN = "~unknown"
"""A net that is always unknown: what drives where nobody knows what it drives."""

INVERTED = {"and": "nand", "or": "nor", "xor": "xnor"}

Place = tuple[str, str]
"""A net and the chip pin at which it is met; '' inside the chip."""


def unknown_source() -> Register:
    """The register that keeps the unknown net unknown."""
    return Register("dff", data=UNKNOWN, output=UNKNOWN)


@dataclass
class ChipLogic:
    """
    Builds one chip.

    Args:
        ref: Reference of the part.
        type: What it is.
        nets: Pin number to net; a pin that is not there is connected to nothing.
        gates: Built so far.
        registers: Built so far.
        _inside: Names that are driven all the time and also read inside the chip.
        _inverters: What each inverter inside reads, to where it leads.
        _count: Inner nets so far.
    """

    ref: str
    type: CatalogueType
    nets: Mapping[str, str]
    gates: list[Gate] = field(default_factory=list)
    registers: list[Register] = field(default_factory=list)
    _inside: set[str] = field(default_factory=set)
    _inverters: dict[Place, Place] = field(default_factory=dict)
    _count: int = 0

    def build(self) -> None:
        """Fill gates and registers; a type without equations drives the unknown where it may drive."""
        lines = self.type.equations
        self._inside = {line.target for line in lines if not line.lets_go} & {n for line in lines for n in line.reads()}
        for line in lines:
            if line.stores:
                self._register(line)
            else:
                self._output(line)
        if not lines:
            self._unknown_outputs()

    def _unknown_outputs(self) -> None:
        data = self.type.with_role("data", "data_out")
        for pin in self.type.pins.values():
            if not pin.may_drive or pin.number not in self.nets:
                continue
            if self.type.drives is not None and pin in data:
                self._lets_go((UNKNOWN, ""), self.type.drives, pin.name)
            else:
                self._gate("buf", [(UNKNOWN, "")], self._outer(pin.name))

    def _outer(self, name: str) -> Place:
        """Where a pin meets the board; a net of its own where nothing is connected."""
        number = self.type.by_name[name].number
        return self.nets.get(number, f"{self.ref}.{number}"), number

    def _target(self, name: str) -> Place:
        """Where an equation puts its result, before it leaves the chip."""
        if name in self._inside or name not in self.type.by_name:
            return f"{self.ref}:{name}", ""
        return self._outer(name)

    def _leave(self, name: str) -> None:
        """Carry a node that is also read inside the chip to its pin."""
        if name in self._inside and name in self.type.by_name:
            self._gate("buf", [(f"{self.ref}:{name}", "")], self._outer(name))

    def _output(self, line: Equation) -> None:
        if line.enable is not None:
            self._lets_go(self._net(line.value), line.enable, line.target)
        elif line.open_collector:
            self._gate("open_collector", [self._net(line.value)], self._target(line.target))
        else:
            self._driven(line.value, self._target(line.target))
            self._leave(line.target)

    def _lets_go(self, data: Place, enable: Expression, name: str) -> None:
        plain = enable.plain()
        if plain and plain[1]:
            self._gate("tri_low", [data, self._read(plain[0])], self._target(name))
        else:
            self._gate("tri", [data, self._net(enable)], self._target(name))

    def _register(self, line: Equation) -> None:
        assert line.clock is not None
        lone = line.clock.plain()
        falling = bool(lone and lone[1])
        places = {
            "data": self._net(line.value),
            "clock": self._read(lone[0]) if lone else self._net(line.clock),
            "clear": self._low(line.clear),
            "preset": self._low(line.preset),
            "output": self._target(line.target),
        }
        self.registers.append(
            Register(
                "dff" if line.edge else "latch",
                data=places["data"][0],
                output=places["output"][0],
                clock=places["clock"][0],
                falling=falling,
                clear=places["clear"][0],
                preset=places["preset"][0],
                part=self.ref,
                pins={role: pin for role, (_, pin) in places.items() if pin},
            )
        )
        self._leave(line.target)

    def _low(self, asserted: Expression | None) -> Place:
        """A net that is low while the expression is true; ('', '') for none."""
        if asserted is None:
            return "", ""
        return self._net(asserted.parts[0] if asserted.kind == "not" else Expression("not", (asserted,)))

    def _read(self, name: str) -> Place:
        if name in self._inside or name not in self.type.by_name:
            return f"{self.ref}:{name}", ""
        return self._outer(name)

    def _net(self, part: Expression) -> Place:
        """A net that carries an expression, with a gate made for it where it needs one."""
        if part.kind == "name":
            return self._read(part.name)
        if (plain := part.plain()) is not None:
            read = self._read(plain[0])
            if read not in self._inverters:
                self._inverters[read] = self._inner()
                self._gate("not", [read], self._inverters[read])
            return self._inverters[read]
        place = self._inner()
        self._driven(part, place)
        return place

    def _driven(self, part: Expression, place: Place) -> None:
        """The gate of the top of an expression, and those below it."""
        kind, parts = part.kind, part.parts
        if kind == "name":
            self._gate("buf", [self._read(part.name)], place)
        elif kind == "not" and parts[0].kind in INVERTED:
            self._gate(INVERTED[parts[0].kind], [self._net(inner) for inner in parts[0].parts], place)
        else:
            self._gate(kind, [self._net(inner) for inner in parts], place)

    def _inner(self) -> Place:
        """A new net inside the chip."""
        self._count += 1
        return f"{self.ref}:{self._count}", ""

    def _gate(self, kind: str, read: list[Place], driven: Place) -> None:
        nets, pins = tuple(net for net, _ in read), tuple(pin for _, pin in read)
        self.gates.append(Gate(kind, nets, driven[0], self.ref, pins, driven[1]))
