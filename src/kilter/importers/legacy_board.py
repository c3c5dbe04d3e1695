"""
Legacy text board files (before 2013): parts, values, pads, nets, places and the outline.

Lengths are ten-thousandths of an inch, or millimetres where the general section says so; angles are tenths of a degree.
The layout of the entries is written down from memory and from one published file, not from a standard.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import cos, isfinite, radians, sin

from kilter.circuit.layout import Place, Spot
from kilter.importers.description import DescribedPart, Description, PartList
from kilter.importers.outlines import Line, arc_about, circle, middle_of, placed
from kilter.importers.pads import Pads
from kilter.importers.text_lines import TextLines, words_of

HEADER = "PCBNEW-BOARD"
EDGE = "28"
"""Layer of the board's edge."""
BOTTOM = "0"
"""Layer of parts on the bottom side; in this format the bottom copper is the first."""
TENTH_MIL = 0.00254
"""Millimetres in a ten-thousandth of an inch."""
LINE, ARC, CIRCLE = "0", "2", "3"


@dataclass
class _Module:
    """A part as it is met."""

    line: int
    library: str = ""
    ref: str = ""
    value: str = ""
    at: Spot = (0.0, 0.0)
    turn: float = 0.0
    bottom: bool = False
    pads: Pads = field(default_factory=Pads)
    spots: dict[str, Spot] = field(default_factory=dict)


def describe_legacy_board(text: str, file: str) -> Description:
    """
    The parts and nets of a board file.

    Raises:
        BadInput: No such board, a number in it is none, a reference is not annotated or is used twice.
    """
    lines = TextLines(text, file)
    if not text.lstrip().startswith(HEADER):
        raise lines.bad("another first line", f"'{HEADER} Version ...'")
    parts = PartList(file, f"Cannot read the board file {file}")
    unit, title, places = TENTH_MIL, "", {}
    outline: list[Line] = []
    for line in lines:
        words = words_of(line)
        if words[:2] == ["Units", "mm"]:
            unit = 1.0
        elif words[:1] == ["Title"] and len(words) > 1:
            title = words[1]
        elif words[:1] == ["$DRAWSEGMENT"]:
            outline += _segment(lines, unit)
        elif words[:1] == ["$MODULE"]:
            module = _module(lines, unit)
            parts.add(_part(module, parts))
            places[module.ref] = _place(module)
    found = parts.finished()
    layout = placed(outline, {ref: places[ref] for ref in found})
    return Description(file, "legacy text board file", title, "", found, layout, tuple(parts.warnings))


def _module(lines: TextLines, unit: float) -> _Module:
    module = _Module(lines.number)
    for line in lines.until("$EndMODULE"):
        words = words_of(line)
        match words:
            case ["Po", x, y, turn, layer, *_]:
                module.at = (unit * _number(x, lines), unit * _number(y, lines))
                module.turn, module.bottom = _number(turn, lines) / 10, layer == BOTTOM
            case ["Li", library, *_]:
                module.library = library
            case ["T0", *_] if len(words) > 11:
                module.ref = words[11]
            case ["T1", *_] if len(words) > 11:
                module.value = words[11]
            case ["$PAD"]:
                _pad(lines, unit, module)
    return module


def _pad(lines: TextLines, unit: float, module: _Module) -> None:
    number, net = "", ""
    right, down = 0.0, 0.0
    for line in lines.until("$EndPAD"):
        match words_of(line):
            case ["Sh", name, *_]:
                number = name
            case ["Ne", _, name, *_]:
                net = name
            case ["Po", x, y, *_]:
                right, down = unit * _number(x, lines), unit * _number(y, lines)
    module.pads.add(number, net)
    c, s = cos(radians(module.turn)), sin(radians(module.turn))
    module.spots[number] = (module.at[0] + right * c + down * s, module.at[1] - right * s + down * c)


def _part(module: _Module, parts: PartList) -> DescribedPart:
    for number in module.pads.split:
        parts.warnings.append(f"{parts.file} line {module.line}: pad {number} of {module.ref} is on more than one net.")
    names = tuple(filter(None, (module.library,)))
    return DescribedPart(module.ref, module.value, module.pads.pins, names, module.line, len(module.pads.numbers))


def _place(module: _Module) -> Place:
    return Place(middle_of(module.spots.values(), module.at), module.turn, module.bottom, module.spots)


def _segment(lines: TextLines, unit: float) -> Iterator[Line]:
    """A drawn line where it is on the edge of the board."""
    shape, spots, edge, angle = LINE, [], False, 0.0
    for line in lines.until("$EndDRAWSEGMENT"):
        match words_of(line):
            case ["Po", kind, x1, y1, x2, y2, *_]:
                numbers = [unit * _number(word, lines) for word in (x1, y1, x2, y2)]
                shape, spots = kind, [(numbers[0], numbers[1]), (numbers[2], numbers[3])]
            case ["De", layer, _, turn, *_]:
                edge, angle = layer == EDGE, radians(_number(turn, lines) / 10)
    if edge and len(spots) == 2:
        start, end = spots
        yield {ARC: arc_about(start, end, angle), CIRCLE: circle(start, end)}.get(shape, (start, end))


def _number(word: str, lines: TextLines) -> float:
    try:
        number = float(word)
    except ValueError:
        number = float("nan")
    if not isfinite(number) or abs(number) > 1e9:
        raise lines.bad(f"'{word[:40]}'", "a number")
    return number
