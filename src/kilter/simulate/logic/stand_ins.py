"""
Stand-ins: what processors, memories and ports do to their pins, as far as a logic probe can tell.

Nobody knows the program or the contents. So a processor walks about its addresses without heeding what it reads, a
memory gives for each address bits that depend on all its address pins, and a port answers when it is selected with
bits that nobody knows. What holds for these holds for most programs and contents; the rest is left unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from kilter.measure.tables import table
from kilter.parts.catalogue import CataloguePin, CatalogueType, Expression
from kilter.parts.catalogue.expression import expression
from kilter.simulate.logic.chip_logic import UNKNOWN, ChipLogic, Place
from kilter.simulate.logic.netlist import Register

STANDS_IN = "~"
"""Begins the names of nets inside a stand-in: '~' and the reference."""


def maker(seed: int) -> type[ChipLogic]:
    """What builds the chips of a board, contents of memories drawn from a seed."""

    class Seeded(StandIn):
        """Stand-ins of one seed."""

        def build(self) -> None:
            self.random = np.random.default_rng([seed, *self.ref.encode()])
            super().build()

    return Seeded


@dataclass
class StandIn(ChipLogic):
    """Builds a chip from its equations, or from what stands in for them."""

    random: np.random.Generator = field(default_factory=lambda: np.random.default_rng(0))

    def build(self) -> None:
        """Fill gates and registers."""
        if self.type.equations:
            super().build()
        elif self.type.function == "processor" and self._on_board("clock"):
            self._processor()
        elif self.type.with_role("data", "data_out") and (self.type.drives or self.type.with_role("enable")):
            self._answering()
        else:
            super().build()

    def _on_board(self, *roles: str) -> list[CataloguePin]:
        return [pin for pin in self.type.with_role(*roles) if pin.number in self.nets]

    def _answering(self) -> None:
        """A memory or port: its data pins carry something while it is selected and read."""
        when = self.type.drives or _selected(self.type)
        memory = self.type.organisation is not None
        for pin in self._on_board("data", "data_out"):
            self._lets_go(self._content() if memory else (UNKNOWN, ""), when, pin.name)
        for pin in self.type.pins.values():
            if pin.direction == "out" and pin.role != "data_out" and pin.number in self.nets:
                self._gate("buf", [(UNKNOWN, "")], self._outer(pin.name))

    def _content(self) -> Place:
        """One bit of the content: a mix of all address pins in which every one of them matters at times."""
        pins = [self._outer(pin.name) for pin in self._on_board("address")]
        if not pins:
            return UNKNOWN, ""
        order = [pins[number] for number in self.random.permutation(len(pins))]
        half = len(order) // 2
        mixed = [self._made("and", [one, other]) for one, other in zip(order[:half], order[half:], strict=False)]
        alone = [pin for pin in order if self.random.random() < 0.5] or order[:1]
        return self._made("xor", [*mixed, *alone])

    def _made(self, kind: str, read: list[Place]) -> Place:
        place = self._inner()
        self._gate(kind, read, place)
        return place

    def _processor(self) -> None:
        data = table("logic/stand_ins")
        clock, reset = self._outer(self._on_board("clock")[0].name), self._reset()
        going = self._going(data["stops_while_high"])
        second = self._node("second")
        turned = self._made("xor", [second, going])
        self._flip_flop("second", turned, clock, reset)
        walk = [self._node(f"walk{number}") for number in range(int(data["walk_bits"]))]
        back = self._made("xnor", [walk[number] for number in data["walk_taps"]])
        for number in range(len(walk)):
            self._flip_flop(f"walk{number}", walk[number - 1] if number else back, second, reset, falling=True)
        active = self._made("and", [second, going])
        self._drive_pins(data, walk, second, active, clock)

    def _drive_pins(
        self, data: Mapping[str, list[str]], walk: list[Place], second: Place, active: Place, clock: Place
    ) -> None:
        addresses = self._on_board("address_out")
        for pin, place in zip(addresses, walk, strict=False):
            self._gate("buf", [place], self._outer(pin.name))
        hidden = walk[len(addresses) % len(walk) :] + walk
        writes, port = hidden[-1], hidden[-3]
        reads, memory = self._made("not", [writes]), self._made("not", [port])
        second_write = self._made("and", [active, writes])
        for number, pin in enumerate(self._on_board("data")):
            self._gate("tri", [hidden[number % len(hidden)], second_write], self._outer(pin.name))
        first = self._made("not", [second])
        made = {
            "write": second_write,
            "read": self._made("and", [active, reads]),
            "memory": self._made("and", [active, memory]),
            "port": self._made("and", [active, port]),
            "fetch": self._made("and", [active, reads, memory]),
            "write_level": reads,
            "port_level": port,
            "address_half": first,
            "steady": self._made("one", []),
            "idle": self._made("zero", []),
        }
        for pin in self._on_board("strobe_out", "output"):
            act = next((kind for kind in made if pin.name in data[kind]), None)
            self._gate("not" if pin.active_low else "buf", [made[act] if act else active], self._outer(pin.name))
        for pin in self._on_board("clock_out"):
            self._gate("not" if pin.name in data["clock_inverted"] else "buf", [clock], self._outer(pin.name))

    def _reset(self) -> Place:
        """Low while it is reset."""
        pins = self._on_board("reset")
        if not pins:
            return "", ""
        place = self._outer(pins[0].name)
        return place if pins[0].active_low else self._made("not", [place])

    def _going(self, stops_while_high: list[str]) -> Place:
        """High while no ready pin stops it."""
        going = []
        for pin in self._on_board("ready"):
            place = self._outer(pin.name)
            going.append(self._made("not", [place]) if pin.name in stops_while_high else place)
        return self._made("and", going) if going else self._made("one", [])

    def _node(self, name: str) -> Place:
        return f"{STANDS_IN}{self.ref}:{name}", ""

    def _flip_flop(self, name: str, data: Place, clock: Place, clear: Place, *, falling: bool = False) -> None:
        pins = {role: pin for role, (_, pin) in (("clock", clock), ("clear", clear)) if pin}
        self.registers.append(
            Register(
                "dff", data[0], self._node(name)[0], clock[0], falling=falling, clear=clear[0], part=self.ref, pins=pins
            )
        )


def is_walk(net: str) -> bool:
    """Whether a net is a place of the walk of a processor's stand-in."""
    return net.startswith(STANDS_IN) and ":walk" in net


def _selected(kind: CatalogueType) -> Expression:
    """When a port drives the data bus: all its enables are active and it is read."""
    wanted = [f"~{pin.name}" if pin.active_low else pin.name for pin in kind.with_role("enable")]
    strobes = {pin.name for pin in kind.with_role("strobe")}
    wanted += [text for name, text in (("RW", "RW"), ("/RD", "~/RD")) if name in strobes]
    return expression(" & ".join(wanted))
