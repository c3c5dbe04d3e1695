"""Symbols of schematics: their pins by unit, where a placed symbol's pins lie, and the units of a part gathered."""

from __future__ import annotations

from dataclasses import dataclass, field

from kilter.importers.description import Connection, DescribedPart, PartList
from kilter.importers.drawing import DrawnPin, Place, Scope
from kilter.importers.drawing_nets import DrawnNet
from kilter.measure.errors import BadInput


@dataclass(frozen=True, slots=True)
class SymbolPin:
    """
    A pin of a library symbol.

    Args:
        number: Of the pin.
        name: In the symbol; '' or '~' where it has none.
        at: Where wires meet it, in the symbol's own axes, y upwards.
        unit: Unit of the part, 0 for all of them.
        style: Drawing style (1 normal, 2 De Morgan), 0 for both.
        supply: Electrical type 'power input'.
        hidden: Not drawn.
    """

    number: str
    name: str
    at: Place
    unit: int = 0
    style: int = 0
    supply: bool = False
    hidden: bool = False


@dataclass
class Symbol:
    """
    A library symbol.

    Args:
        name: In the library.
        pins: Of all units.
        power: It is a power symbol: no part, it names a net.
        local: Its net name reaches no further than the sheet.
    """

    name: str
    pins: list[SymbolPin] = field(default_factory=list)
    power: bool = False
    local: bool = False


@dataclass(frozen=True, slots=True)
class Turn:
    """
    How a symbol is turned: x' = a x + b y, y' = c x + d y, from the symbol's axes (y upwards) to the sheet's.

    >>> Turn.of(90, "")(1, 0), Turn.of(90, "x")(1, 0), Turn.of(0, "y")(2, 3)
    ((0, -1), (0, 1), (-2, -3))
    """

    a: int = 1
    b: int = 0
    c: int = 0
    d: int = -1

    def __call__(self, x: int, y: int) -> Place:
        return (self.a * x + self.b * y, self.c * x + self.d * y)

    @staticmethod
    def of(degrees: int, mirror: str) -> Turn:
        """
        Turned anticlockwise by quarter turns, and only then mirrored.

        Args:
            degrees: 0, 90, 180 or 270.
            mirror: 'x' swaps up and down, 'y' swaps left and right, 'xy' does both.
        """
        a, b, c, d = {0: (1, 0, 0, -1), 90: (0, -1, -1, 0), 180: (-1, 0, 0, 1), 270: (0, 1, 1, 0)}[degrees % 360]
        if "x" in mirror:
            c, d = -c, -d
        if "y" in mirror:
            a, b = -a, -b
        return Turn(a, b, c, d)


@dataclass(frozen=True, slots=True)
class Placed:
    """
    A symbol on a sheet.

    Args:
        ref: Reference in this use of the sheet.
        value: As printed.
        place: Its origin.
        turn: How it is turned.
        unit: Which unit of the part.
        style: Drawing style.
        names: Names of library symbol and footprint.
        file: Name of the file of its sheet.
        line: In that file.
        by_value: A power symbol's net is its value; False where the program took the name of its pin.
        fitted: The part is on the board.
    """

    ref: str
    value: str
    place: Place
    turn: Turn
    unit: int = 1
    style: int = 1
    names: tuple[str, ...] = ()
    file: str = ""
    line: int = 0
    by_value: bool = True
    fitted: bool = True

    @property
    def where(self) -> str:
        """File and line."""
        return f"{self.file} line {self.line}"


def drawn_pins(placed: Placed, symbol: Symbol) -> list[DrawnPin]:
    """
    The pins of a placed symbol.

    Power symbols and hidden supply pins name the net they are on; a pin of a flag that only marks a net as supplied
    names nothing, because its type is not 'power input'.
    """
    pins = []
    ref = "" if symbol.power or placed.ref.startswith("#") else placed.ref
    for pin in symbol.pins:
        if pin.unit not in (0, placed.unit) or pin.style not in (0, placed.style):
            continue
        x, y = placed.turn(*pin.at)
        where = (placed.place[0] + x, placed.place[1] + y)
        names = _named(placed, symbol, pin)
        scope = Scope.LOCAL if symbol.power and symbol.local else Scope.GLOBAL
        if ref or names:
            pins.append(DrawnPin(ref, pin.number, where, "" if pin.name == "~" else pin.name, names, scope))
    return pins


def _named(placed: Placed, symbol: Symbol, pin: SymbolPin) -> str:
    if not pin.supply or not (symbol.power or pin.hidden):
        return ""
    own = "" if pin.name == "~" else pin.name
    value = placed.value if placed.value != "~" else ""
    return (value or own) if symbol.power and placed.by_value else (own or (value if symbol.power else ""))


class Units:
    """The placed symbols of a schematic gathered into parts: several units of one reference are one part."""

    def __init__(self, parts: PartList) -> None:
        self.parts = parts
        self.units: dict[str, dict[int, tuple[Placed, Symbol]]] = {}

    def add(self, placed: Placed, symbol: Symbol) -> None:
        """
        Take one placed symbol that is a part.

        Raises:
            BadInput: A reference that is not annotated, or one unit of a part a second time.
        """
        units = self.units.setdefault(placed.ref, {})
        if placed.ref.endswith("?") or not placed.ref:
            found = f"the reference '{placed.ref}' ({placed.value}) at {placed.where}"
        elif placed.unit in units:
            first = units[placed.unit][0]
            found = f"unit {placed.unit} of {placed.ref} a second time at {placed.where} (first at {first.where})"
        else:
            units[placed.unit] = (placed, symbol)
            return
        raise BadInput(self.parts.doing, found, "each unit of each reference once, with a number, as U5",
                       "Annotate the schematic and use that file.")  # fmt: skip

    def finish(self, nets: list[DrawnNet]) -> dict[str, DescribedPart]:
        """
        All parts with the nets of their pins.

        Raises:
            BadInput: There is no part.
        """
        pins: dict[str, dict[str, Connection]] = {}
        for net in nets:
            for pin in net.pins:
                self._connect(pins.setdefault(pin.ref, {}), pin, net.name)
        for ref, units in self.units.items():
            self._finish(units, pins.get(ref, {}))
        return self.parts.finished()

    def _finish(self, units: dict[int, tuple[Placed, Symbol]], own: dict[str, Connection]) -> None:
        placed, symbol = units[min(units)]
        others = sorted({other.value for other, _ in units.values()} - {placed.value})
        if others:
            self.parts.warnings.append(f"{placed.where}: the units of {placed.ref} have the values '{placed.value}' "
                                       f"and '{', '.join(others)}'; the first is used.")  # fmt: skip
        if not placed.fitted:
            self.parts.warnings.append(f"{placed.where}: {placed.ref} is marked as not fitted and is left out.")
            return
        ordered = {pin.number: own[pin.number] for pin in symbol.pins if pin.number in own}
        count = len({pin.number for pin in symbol.pins})
        self.parts.add(DescribedPart(placed.ref, placed.value, ordered | own, placed.names, placed.line, count))

    def _connect(self, pins: dict[str, Connection], pin: DrawnPin, net: str) -> None:
        """A pin that several units share is one pin; where its nets differ, that is said."""
        other = pins.setdefault(pin.number, Connection(net, pin.function))
        if other.net != net:
            self.parts.warnings.append(
                f"{self.parts.file}: the pin {pin.ref}.{pin.number} is drawn on the nets {other.net} and {net}; "
                "the first is used."
            )
