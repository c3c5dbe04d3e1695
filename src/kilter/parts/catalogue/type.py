"""What the catalogue knows of one type: pins by number, their roles, what drives them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from kilter.parts.catalogue.equations import Equation
from kilter.parts.catalogue.expression import Expression


@dataclass(frozen=True, slots=True)
class CataloguePin:
    """
    One pin.

    Args:
        number: As printed on a drawing, '1' upwards.
        name: Such as '1A'; '/' before it means active low.
        role: A key of data/catalogue/roles.toml: clock, reset, address, supply, ...
        direction: 'in', 'out', 'both', 'passive', 'power' or 'none'.
    """

    number: str
    name: str
    role: str
    direction: str

    @property
    def active_low(self) -> bool:
        """Whether the function is there while the pin is low."""
        return self.name.startswith("/")

    @property
    def may_drive(self) -> bool:
        """Whether it can put something on its net."""
        return self.direction in ("out", "both", "passive")


@dataclass(frozen=True)
class CatalogueType:
    """
    One type, as several makers built it.

    Args:
        key: Type number without maker, family, speed and package: '74138', '62256', 'Z80'.
        words: What a person would say.
        function: Such as 'gate', 'counter', 'static_ram', 'processor', 'opamp'.
        kind: Key into the part kinds.
        technology: Key into the logic families of the simulation; '' for analogue types.
        pins: By number; empty where the order varies or is not known.
        equations: What the outputs do; empty where that is not known.
        drives: For a memory: its data pins carry something while this is true.
        input: 'plain' or 'hysteresis'.
        organisation: Words and bits of a memory.
        volts: Voltages by name: 'reference', 'dropout', 'output', or a supply pin's. [V]
        order_varies: The order of the pins depends on the maker: check before use.
        caution: What can go wrong in handling or reading it.
        checked: What the pinout was compared with: 'memory' for nothing.
        family: As marked on the part: 'LS', 'HCT', '' for the plain one; set by find_type.
    """

    key: str
    words: str
    function: str
    kind: str
    technology: str
    pins: Mapping[str, CataloguePin] = field(default_factory=dict)
    equations: tuple[Equation, ...] = ()
    drives: Expression | None = None
    input: str = "plain"
    organisation: tuple[int, int] | None = None
    volts: Mapping[str, float] = field(default_factory=dict)
    order_varies: bool = False
    caution: str = ""
    checked: str = "memory"
    family: str = ""

    @cached_property
    def by_name(self) -> Mapping[str, CataloguePin]:
        """Pins by name; unconnected ones left out."""
        return {pin.name: pin for pin in self.pins.values() if pin.role != "none"}

    def with_role(self, *roles: str) -> tuple[CataloguePin, ...]:
        """Pins of these roles, in order of number."""
        return tuple(pin for pin in self.pins.values() if pin.role in roles)
