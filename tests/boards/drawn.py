"""
Schematics drawn for the tests, written as S-expressions of two generations and as legacy text.

A sheet is a list of items at places on a grid of mils, so that one drawing serves every format. The library symbols
are ours: a resistor, a three-pin star, a gate package with hidden supply pins, power symbols and a flag.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from pathlib import Path

Place = tuple[int, int]
MIL = 0.0254
NAMESPACE = uuid.UUID(int=4)

LIBRARY: dict[str, tuple[str, str, list[tuple[str, str, Place, int, str, bool]]]] = {
    # name: prefix, 'power' or '', pins as (number, name, place with y upwards, unit, type, hidden)
    "RES": ("R", "", [("1", "~", (0, 150), 0, "passive", False), ("2", "~", (0, -150), 0, "passive", False)]),
    "STAR": ("Q", "", [("1", "N", (0, 200), 0, "passive", False), ("2", "S", (0, -200), 0, "passive", False),
                       ("3", "E", (200, 0), 0, "passive", False)]),
    "74LS00": ("U", "", [("1", "A", (-300, 100), 1, "input", False), ("2", "B", (-300, -100), 1, "input", False),
                         ("3", "~{Y}", (300, 0), 1, "output", False),
                         ("4", "A", (-300, 100), 2, "input", False), ("5", "B", (-300, -100), 2, "input", False),
                         ("6", "~{Y}", (300, 0), 2, "output", False),
                         ("14", "VCC", (0, 200), 0, "power_in", True), ("7", "GND", (0, -200), 0, "power_in", True)]),
    "GND": ("#PWR", "power", [("1", "GND", (0, 0), 0, "power_in", True)]),
    "VCC": ("#PWR", "power", [("1", "VCC", (0, 0), 0, "power_in", True)]),
    "FLAG": ("#FLG", "power", [("1", "pwr", (0, 0), 0, "power_out", False)]),
}  # fmt: skip
LEGACY_TYPES = {"passive": "P", "input": "I", "output": "O", "power_in": "W", "power_out": "w"}


@dataclass
class Part:
    """A symbol: reference for each use of its sheet (all uses alike where there is one)."""

    name: str
    refs: tuple[str, ...]
    at: Place
    value: str = ""
    unit: int = 1
    turn: int = 0
    mirror: str = ""


@dataclass
class Wire:
    start: Place
    end: Place
    kind: str = "wire"


@dataclass
class Label:
    text: str
    at: Place
    kind: str = "label"


@dataclass
class Junction:
    at: Place


@dataclass
class Entry:
    at: Place
    size: Place


@dataclass
class Below:
    """A sheet's symbol: name, index of the file and its pins."""

    title: str
    file: str
    at: Place
    pins: list[tuple[str, Place]] = field(default_factory=list)


Item = Part | Wire | Label | Junction | Entry | Below
Sheets = dict[str, list[Item]]
"""File name without ending to what is drawn there; the first is the first sheet."""


def write_sexpr(folder: Path, sheets: Sheets, version: int, *, uses: dict[str, list[str]] | None = None) -> Path:
    """
    Write the sheets as S-expressions.

    Args:
        folder: Where.
        sheets: To be written.
        version: Of the format; before 2022 the first sheet lists the uses of all symbols.
        uses: File to the paths of its uses, such as {'top': ['/'], 'amp': ['/left/', '/right/']}.
    """
    uses = uses or {name: ["/"] for name in sheets}
    first = next(iter(sheets))
    for name, items in sheets.items():
        lines = [f"(kicad_sch (version {version}) (generator tests) (uuid {_id(name)}) (paper A4)", _library_sexpr()]
        lines += [_item_sexpr(item, name, first, uses, version) for item in items]
        if version < 20220000 and name == first:
            lines.append("(symbol_instances")
            for sheet, drawn in sheets.items():
                for part in (item for item in drawn if isinstance(item, Part)):
                    for number, path in enumerate(uses[sheet]):
                        lines.append(
                            f'(path "{_path(path)}{_id(sheet, part)}" (reference "{_ref(part, number)}") '
                            f'(unit {part.unit}) (value "{part.value or part.name}") (footprint ""))'
                        )
            lines.append(")")
        (folder / f"{name}.kicad_sch").write_text("\n".join([*lines, ")"]))
    return folder / f"{first}.kicad_sch"


def write_legacy(folder: Path, sheets: Sheets, *, uses: dict[str, list[str]] | None = None) -> Path:
    """Write the sheets as legacy text with the cache library of the first."""
    uses = uses or {name: ["/"] for name in sheets}
    first = next(iter(sheets))
    for name, items in sheets.items():
        lines = ["EESchema Schematic File Version 4", "EELAYER 30 0", "EELAYER END", "$Descr A4 11693 8268",
                 'Title "drawn for a test"', "$EndDescr"]  # fmt: skip
        for item in items:
            lines += _item_legacy(item, name, uses)
        (folder / f"{name}.sch").write_text("\n".join([*lines, "$EndSCHEMATC", ""]))
    (folder / f"{first}-cache.lib").write_text(_library_legacy())
    return folder / f"{first}.sch"


def _id(*words: object) -> str:
    return str(uuid.uuid5(NAMESPACE, repr(words)))


def _path(path: str) -> str:
    """'/left/' to the identities of the sheets on the way."""
    return "/" + "".join(f"{_id('below', title)}/" for title in path.strip("/").split("/") if title)


def _ref(part: Part, number: int) -> str:
    return part.refs[number] if len(part.refs) > 1 else part.refs[0]


def _mm(place: Place) -> str:
    return f"{place[0] * MIL:.4f} {place[1] * MIL:.4f}"


def _library_sexpr() -> str:
    words = ["(lib_symbols"]
    for name, (prefix, power, pins) in LIBRARY.items():
        words.append(f'(symbol "t:{name}" {"(power)" if power else ""} (property "Reference" "{prefix}" (at 0 0 0))')
        words.append(f'(property "Value" "{name}" (at 0 0 0))')
        for unit in sorted({pin[3] for pin in pins}):
            words.append(f'(symbol "{name}_{unit}_1"')
            for number, label, (x, y), own, kind, hidden in pins:
                if own == unit:
                    words.append(f'(pin {kind} line (at {_mm((x, y))} 0) (length 0){" hide" if hidden else ""} '
                                 f'(name "{label}") (number "{number}"))')  # fmt: skip
            words.append(")")
        words.append(")")
    return "\n".join([*words, ")"])


def _item_sexpr(item: Item, sheet: str, first: str, uses: dict[str, list[str]], version: int) -> str:
    match item:
        case Wire():
            return f"({item.kind} (pts (xy {_mm(item.start)}) (xy {_mm(item.end)})) (uuid {_id(sheet, item)}))"
        case Label():
            return f'({item.kind} "{item.text}" (at {_mm(item.at)} 0) (uuid {_id(sheet, item)}))'
        case Junction():
            return f"(junction (at {_mm(item.at)}) (uuid {_id(sheet, item)}))"
        case Entry():
            return f"(bus_entry (at {_mm(item.at)}) (size {_mm(item.size)}) (uuid {_id(sheet, item)}))"
        case Below():
            pins = " ".join(f'(pin "{text}" input (at {_mm(at)} 0) (uuid {_id(item.title, text)}))'
                            for text, at in item.pins)  # fmt: skip
            return (f'(sheet (at {_mm(item.at)}) (size 20 20) (uuid {_id("below", item.title)}) '
                    f'(property "Sheetname" "{item.title}" (at 0 0 0)) '
                    f'(property "Sheetfile" "{item.file}.kicad_sch" (at 0 0 0)) {pins})')  # fmt: skip
        case Part():
            return _part_sexpr(item, sheet, first, uses, version)


def _part_sexpr(part: Part, sheet: str, first: str, uses: dict[str, list[str]], version: int) -> str:
    mirror = f"(mirror {part.mirror})" if part.mirror else ""
    known = ""
    if version >= 20220000:
        paths = [f'(path "{("/" + _id(first) + _path(path)).rstrip("/")}" (reference "{_ref(part, number)}") '
                 f"(unit {part.unit}))" for number, path in enumerate(uses[sheet])]  # fmt: skip
        known = f'(instances (project "t" {" ".join(paths)}))'
    return (f'(symbol (lib_id "t:{part.name}") (at {_mm(part.at)} {part.turn}) {mirror} (unit {part.unit}) '
            f'(uuid {_id(sheet, part)}) (property "Reference" "{part.refs[0]}" (at 0 0 0)) '
            f'(property "Value" "{part.value or part.name}" (at 0 0 0)) {known})')  # fmt: skip


def _stamp(*words: object) -> str:
    return _id(*words).replace("-", "")[:8].upper()


def _stamps(path: str) -> str:
    return "/" + "".join(f"{_stamp('below', title)}/" for title in path.strip("/").split("/") if title)


def _item_legacy(item: Item, sheet: str, uses: dict[str, list[str]]) -> list[str]:
    match item:
        case Wire():
            kind = "Wire" if item.kind == "wire" else "Bus"
            return [f"Wire {kind} Line", f"\t{item.start[0]} {item.start[1]} {item.end[0]} {item.end[1]}"]
        case Label():
            kind = {"label": "Label", "hierarchical_label": "HLabel", "global_label": "GLabel"}[item.kind]
            text = item.text.replace("~{", "~").replace("}", "")
            return [f"Text {kind} {item.at[0]} {item.at[1]} 0 50 ~ 0", text]
        case Junction():
            return [f"Connection ~ {item.at[0]} {item.at[1]}"]
        case Entry():
            (x, y), (w, h) = item.at, item.size
            return ["Entry Wire Line", f"\t{x} {y} {x + w} {y + h}"]
        case Below():
            pins = [f'F{n} "{text}" I L {x} {y} 50' for n, (text, (x, y)) in enumerate(item.pins, 2)]
            return ["$Sheet", f"S {item.at[0]} {item.at[1]} 500 500", f"U {_stamp('below', item.title)}",
                    f'F0 "{item.title}" 50', f'F1 "{item.file}.sch" 50', *pins, "$EndSheet"]  # fmt: skip
        case Part():
            return _part_legacy(item, sheet, uses)


TURNS = {(0, ""): (1, 0, 0, -1), (90, ""): (0, -1, -1, 0), (180, ""): (-1, 0, 0, 1), (270, ""): (0, 1, 1, 0)}


def _part_legacy(part: Part, sheet: str, uses: dict[str, list[str]]) -> list[str]:
    matrix = " ".join(f"{number:<4}" for number in TURNS[part.turn, part.mirror])
    stamp = _stamp(sheet, part)
    x, y = part.at
    known = [f'AR Path="{_stamps(path)}{stamp}" Ref="{_ref(part, number)}"  Part="{part.unit}" '
             for number, path in enumerate(uses[sheet])]  # fmt: skip
    return ["$Comp", f"L t:{part.name} {part.refs[0]}", f"U {part.unit} 1 {stamp}", f"P {x} {y}", *known,
            f'F 0 "{part.refs[0]}" H {x} {y} 50  0000 C CNN',
            f'F 1 "{part.value or part.name}" H {x} {y} 50  0000 C CNN',
            f"\t{part.unit}    {x} {y}", f"\t{matrix}", "$EndComp"]  # fmt: skip


def _library_legacy() -> str:
    lines = ["EESchema-LIBRARY Version 2.4", "#encoding utf-8"]
    for name, (prefix, power, pins) in LIBRARY.items():
        units = max(1, *(pin[3] for pin in pins))
        lines.append(f"DEF t_{name} {prefix} 0 10 Y Y {units} F {'P' if power else 'N'}")
        lines += [f'F0 "{prefix}" 0 0 50 H V C CNN', f'F1 "t_{name}" 0 0 50 H V C CNN', "DRAW"]
        for number, label, (x, y), unit, kind, hidden in pins:
            text = label.replace("~{", "~").replace("}", "")
            lines.append(f"X {text} {number} {x} {y} 0 R 50 50 {unit} 1 {LEGACY_TYPES[kind]}{' N' if hidden else ''}")
        lines += ["ENDDRAW", "ENDDEF"]
    return "\n".join([*lines, "#", "#End Library", ""])
