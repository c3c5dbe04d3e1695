"""One sheet of a legacy text schematic, as it is drawn; what its symbols look like is in a library elsewhere."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from kilter.importers.drawing import Label, Place, Scope, Segment
from kilter.importers.symbols import Turn
from kilter.importers.text_lines import TextLines, words_of

HEADER = "EESchema Schematic File"
LABELS = {"Label": Scope.LOCAL, "HLabel": Scope.PORT, "GLabel": Scope.GLOBAL}
USE = re.compile(r'(\w+)="([^"]*)"')


@dataclass
class LegacySymbol:
    """A placed symbol; `uses` has the reference and unit of each use of its sheet, by the path to the symbol."""

    name: str
    ref: str
    line: int
    value: str = ""
    footprint: str = ""
    stamp: str = ""
    unit: int = 1
    style: int = 1
    place: Place = (0, 0)
    turn: Turn = field(default_factory=Turn)
    uses: dict[str, tuple[str, int]] = field(default_factory=dict)


@dataclass
class Below:
    """The symbol of a sheet further down."""

    line: int
    stamp: str = ""
    name: str = ""
    file: str = ""
    pins: list[tuple[str, Place]] = field(default_factory=list)


@dataclass
class LegacySheet:
    """Everything drawn in one file."""

    file: str
    version: str = ""
    title: str = ""
    revision: str = ""
    wires: list[Segment] = field(default_factory=list)
    buses: list[Segment] = field(default_factory=list)
    entries: list[Segment] = field(default_factory=list)
    junctions: list[Place] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    symbols: list[LegacySymbol] = field(default_factory=list)
    below: list[Below] = field(default_factory=list)


def read_legacy_sheet(text: str, file: str) -> LegacySheet:
    """
    One sheet.

    Raises:
        BadInput: No such sheet, an entry that is not closed, or a number that is none.
    """
    lines = TextLines(text, file)
    if not text.lstrip().startswith(HEADER):
        raise lines.bad("another first line", f"'{HEADER} Version ...'")
    sheet = LegacySheet(file)
    for line in lines:
        words = words_of(line)
        match words[:2]:
            case ["EESchema", "Schematic"]:
                sheet.version = words[-1]
            case ["Title", title]:
                sheet.title = title
            case ["Rev", revision]:
                sheet.revision = revision
            case [("Wire" | "Entry") as what, kind]:
                _line(what, kind, sheet, lines)
            case ["Connection", _]:
                x, y = lines.wholes(words[2:], 2)
                sheet.junctions.append((x, y))
            case ["Text", kind] if kind in LABELS:
                x, y = lines.wholes(words[2:], 2)
                sheet.labels.append(Label(lines.next().strip(), (x, y), LABELS[kind]))
            case ["Text", _]:
                lines.next()
            case ["$Comp", *_]:
                sheet.symbols.append(_symbol(lines))
            case ["$Sheet", *_]:
                sheet.below.append(_below(lines))
    return sheet


def _line(what: str, kind: str, sheet: LegacySheet, lines: TextLines) -> None:
    x1, y1, x2, y2 = lines.wholes(words_of(lines.next()), 4)
    if what == "Entry":
        sheet.entries.append(((x1, y1), (x2, y2)))
    elif kind == "Wire":
        sheet.wires.append(((x1, y1), (x2, y2)))
    elif kind == "Bus":
        sheet.buses.append(((x1, y1), (x2, y2)))


def _symbol(lines: TextLines) -> LegacySymbol:
    symbol = LegacySymbol("", "", lines.number)
    rest: list[list[str]] = []
    for line in lines.until("$EndComp"):
        words = words_of(line)
        if words and words[0] in ("L", "U", "P", "F", "AR"):
            _entry(words, symbol, lines, line)
        elif line[:1].isspace() and words:
            rest.append(words)
    if len(rest) < 2:
        raise lines.bad(f"the symbol {symbol.ref} without its two lines of numbers", "a place and how it is turned")
    symbol.turn = Turn(*(max(-1, min(1, number)) for number in lines.wholes(rest[-1], 4)))
    return symbol


def _entry(words: list[str], symbol: LegacySymbol, lines: TextLines, line: str) -> None:
    match words:
        case ["L", name, ref, *_]:
            symbol.name, symbol.ref = name, ref
        case ["U", unit, style, stamp, *_]:
            symbol.unit, symbol.style = lines.wholes([unit, style], 2)
            symbol.stamp = stamp
        case ["P", x, y, *_]:
            symbol.place = (lines.whole(x), lines.whole(y))
        case ["F", "0", ref, *_]:
            symbol.ref = ref
        case ["F", "1", value, *_]:
            symbol.value = value.lstrip("~") if value != "~" else ""
        case ["F", "2", footprint, *_]:
            symbol.footprint = footprint if footprint != "~" else ""
        case ["AR", *_]:
            use = dict(USE.findall(line))
            if use.get("Path"):
                symbol.uses[use["Path"]] = (use.get("Ref", symbol.ref), lines.whole(use.get("Part", "1")))


def _below(lines: TextLines) -> Below:
    below = Below(lines.number)
    for line in lines.until("$EndSheet"):
        words = words_of(line)
        if not words:
            continue
        if words[0] == "U" and len(words) > 1:
            below.stamp = words[1]
        elif words[0] == "F0" and len(words) > 1:
            below.name = words[1]
        elif words[0] == "F1" and len(words) > 1:
            below.file = words[1]
        elif words[0][0] == "F" and words[0][1:].isdecimal() and len(words) > 5:
            x, y = lines.wholes(words[4:], 2)
            below.pins.append((words[1], (x, y)))
    return below
