"""
What a file says about a board, before anything is concluded from it: parts, pins and nets in the file's own words.

Every reader of a board, schematic or netlist format ends here, so that descriptions of one board can be compared pin
by pin and are turned into a board by the same rules.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from kilter.circuit.layout import Layout
from kilter.measure.errors import BadInput


@dataclass(frozen=True, slots=True)
class Connection:
    """The net that a pin is on, as the file spells it, and the name that the pin has in its symbol."""

    net: str
    function: str = ""


@dataclass(frozen=True, slots=True)
class DescribedPart:
    """
    One part as a file has it.

    Args:
        ref: Reference designator.
        value: As printed.
        pins: Pin or pad number to its connection; pins without a net are left out.
        names: Names of its symbol, device and footprint, the most telling first.
        line: Where the file has it, 0 where that means nothing.
        pin_count: Pins it has, connected or not.
    """

    ref: str
    value: str
    pins: Mapping[str, Connection]
    names: tuple[str, ...] = ()
    line: int = 0
    pin_count: int = 0


@dataclass(frozen=True)
class Description:
    """
    One file's (or one schematic's) view of a board.

    Args:
        file: Name of the file.
        form: The format and its version, in words.
        title: Of the board, '' where the file has none.
        parts: By reference, in the order of the file.
        layout: Where things are, where the format tells.
        warnings: One sentence, with its line, for each thing left out or doubted.
        guesses: One sentence for each thing inferred rather than read.
        has_values: Whether the format says what a part's value is.
    """

    file: str
    form: str
    title: str = ""
    revision: str = ""
    parts: Mapping[str, DescribedPart] = field(default_factory=dict)
    layout: Layout | None = None
    warnings: tuple[str, ...] = ()
    guesses: tuple[str, ...] = ()
    has_values: bool = True

    def nets(self) -> dict[str, list[tuple[str, str]]]:
        """Net to the (reference, pin number) pairs on it, in part order."""
        found: dict[str, list[tuple[str, str]]] = {}
        for part in self.parts.values():
            for pin, connection in part.pins.items():
                found.setdefault(connection.net, []).append((part.ref, pin))
        return found


AUTOMATIC = re.compile(r"unconnected-\(|Net-\(|N\$\d+$")
"""Names that a program gives to nets that nobody named."""


class PartList:
    """
    Parts as they are met in a file: no reference twice, none without a number.

    Args:
        file: Name of the file, for messages.
        doing: 'Cannot read the board file x', for messages.
    """

    def __init__(self, file: str, doing: str) -> None:
        self.file, self.doing = file, doing
        self.parts: dict[str, DescribedPart] = {}
        self.warnings: list[str] = []

    def add(self, part: DescribedPart) -> None:
        """
        Take one part; one without a name or a connected pin is left out with a warning, a logo without one.

        Raises:
            BadInput: A connected part without a number, or whose reference is there already.
        """
        nameless = not part.ref.strip("*") or part.ref.endswith("*")
        if not part.pins or nameless:
            if part.pin_count and (part.pins or not nameless):
                why = "has connected pins but no reference" if nameless else "has no connected pin"
                what = part.ref or " ".join(part.names) or "a part"
                self.warnings.append(f"{self._place(part)}: {what} {why} and is left out.")
            return
        if part.ref.endswith("?"):
            raise BadInput(self.doing, f"the reference '{part.ref}' of a part with connected pins at "
                           f"{self._place(part)}", "references with a number, as U5",
                           "Annotate the schematic, bring the board up to date and use that file.")  # fmt: skip
        other = self.parts.get(part.ref)
        if other is not None:
            raise BadInput(self.doing, f"the reference '{part.ref}' a second time at {self._place(part)} "
                           f"(first at line {other.line})", "each reference once",
                           "Annotate the schematic, bring the board up to date and use that file.")  # fmt: skip
        self.parts[part.ref] = part

    def finished(self) -> dict[str, DescribedPart]:
        """
        The parts, without pins on nets that join nothing and have an automatic name.

        Raises:
            BadInput: There is none.
        """
        pins = Counter(one.net for part in self.parts.values() for one in part.pins.values())
        alone = {net for net, count in pins.items() if count == 1 and AUTOMATIC.match(net)}
        parts, self.parts = self.parts, {}
        for part in parts.values():
            self.add(replace(part, pins={pin: one for pin, one in part.pins.items() if one.net not in alone}))
        if not self.parts:
            raise BadInput(self.doing, f"no part with a connected pin in {self.file} line 1", "at least one part",
                           "Check that this is the file of the board, and that its parts are connected.")  # fmt: skip
        return self.parts

    def _place(self, part: DescribedPart) -> str:
        return f"{self.file} line {part.line}" if part.line else self.file
