"""
A schematic as it is drawn: sheets with wires, labels and the pins of symbols, at whole-number places.

The places of one sheet share a unit of the format's own; they are compared and never measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum

Place = tuple[int, int]
Segment = tuple[Place, Place]


class Scope(Enum):
    """How far a label reaches: its own sheet, its sheet and the pin of the sheet's symbol, or everywhere."""

    LOCAL = "local"
    PORT = "hierarchical"
    GLOBAL = "global"


@dataclass(frozen=True, slots=True)
class Label:
    """A name on a wire or bus."""

    text: str
    place: Place
    scope: Scope


@dataclass(frozen=True, slots=True)
class DrawnPin:
    """
    A pin of a symbol.

    Args:
        ref: Reference of the part; '' for power symbols, whose pin only names a net.
        number: Of the pin.
        place: Where wires meet it.
        function: Its name in the symbol.
        names: Net that the pin names by itself (power symbols, hidden supply pins), else ''.
        scope: How far that name reaches.
    """

    ref: str
    number: str
    place: Place
    function: str = ""
    names: str = ""
    scope: Scope = Scope.GLOBAL


@dataclass(frozen=True, slots=True)
class SheetPin:
    """A pin of a sheet's symbol: it meets the hierarchical label of its name on the sheet below."""

    child: str
    text: str
    place: Place


@dataclass
class Sheet:
    """
    One sheet as often as it is used.

    Args:
        path: Identity of this use, ending in '/'; '/' is the first sheet.
        name: The path in words, ending in '/', for the names of its nets.
        entries: Short slanted lines between a wire and a bus, or (buses) between two buses.
        aliases: Groups of bus members that the file gives a name.
    """

    path: str
    name: str
    wires: list[Segment] = field(default_factory=list)
    buses: list[Segment] = field(default_factory=list)
    entries: list[Segment] = field(default_factory=list)
    junctions: list[Place] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    pins: list[DrawnPin] = field(default_factory=list)
    sheet_pins: list[SheetPin] = field(default_factory=list)
    aliases: dict[str, Sequence[str]] = field(default_factory=dict)


class Lines:
    """
    Segments of one sheet, asked which of them touch a place.

    >>> lines = Lines([((0, 0), (10, 0)), ((5, -5), (5, 5)), ((0, 0), (4, 4))])
    >>> lines.at((5, 0)), lines.at((2, 2)), lines.at((11, 0))
    ([0, 1], [2], [])
    """

    def __init__(self, segments: Sequence[Segment]) -> None:
        self.segments = segments
        self.rows: dict[int, list[int]] = {}
        self.columns: dict[int, list[int]] = {}
        self.slanted: list[int] = []
        for number, ((x1, y1), (x2, y2)) in enumerate(segments):
            if y1 == y2:
                self.rows.setdefault(y1, []).append(number)
            elif x1 == x2:
                self.columns.setdefault(x1, []).append(number)
            else:
                self.slanted.append(number)

    def at(self, place: Place) -> list[int]:
        """Numbers of the segments that run through or end at a place."""
        near = (*self.rows.get(place[1], ()), *self.columns.get(place[0], ()), *self.slanted)
        return [number for number in near if _touches(self.segments[number], place)]


def _touches(segment: Segment, place: Place) -> bool:
    (x1, y1), (x2, y2) = segment
    x, y = place
    if not (min(x1, x2) <= x <= max(x1, x2) and min(y1, y2) <= y <= max(y1, y2)):
        return False
    return (x2 - x1) * (y - y1) == (y2 - y1) * (x - x1)
