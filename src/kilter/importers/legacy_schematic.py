"""
Legacy text schematics (.sch of 2005 to 2020) with their sheets.

Where a symbol's pins are is not in the schematic but in a library: the cache library beside it, else every library in
its folder. A symbol that is in none of them is refused, because its pins could be anywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from kilter.importers.description import Description, PartList
from kilter.importers.drawing import Sheet, SheetPin
from kilter.importers.drawing_nets import connected
from kilter.importers.legacy_library import HEADER as LIBRARY_HEADER
from kilter.importers.legacy_library import read_legacy_library, symbol_key
from kilter.importers.legacy_sheet import HEADER, LegacySheet, LegacySymbol, read_legacy_sheet
from kilter.importers.sheet_files import SheetFiles
from kilter.importers.symbols import Placed, Symbol, Units, drawn_pins
from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput

LISTED = 8
"""Missing symbols listed in a message."""


def describe_legacy_schematic(path: Path) -> Description:
    """
    The parts and nets of a schematic, from the file of its first sheet.

    Raises:
        BadInput: A sheet or the library cannot be read, a symbol is in no library, a reference is not annotated.
    """
    files = SheetFiles(path, read_legacy_sheet)
    parts = PartList(path.name, files.doing)
    first = files.first()
    reader = _Reader(files, Units(parts), _library(path))
    reader.read((path.resolve(),), "/", "/")
    reader.check()
    found = reader.units.finish(connected(reader.sheets))
    return Description(
        path.name, f"legacy text schematic, version {first.version}, sheets: {len(reader.sheets)}", first.title,
        first.revision, found, None, tuple(parts.warnings),
    )  # fmt: skip


def is_legacy_schematic(text: str) -> bool:
    """Whether a text begins as such a schematic does."""
    return text.lstrip().startswith(HEADER)


@dataclass
class _Reader:
    """Walks through the uses of all sheets."""

    files: SheetFiles[LegacySheet]
    units: Units
    library: dict[str, Symbol]
    sheets: list[Sheet] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)

    def read(self, above: tuple[Path, ...], path: str, name: str) -> None:
        """One use of a sheet and everything below it."""
        drawn = self.files.known[above[-1]]
        sheet = Sheet(path, name, drawn.wires, drawn.buses, drawn.entries, drawn.junctions, list(drawn.labels))
        self.sheets.append(sheet)
        for symbol in drawn.symbols:
            self._symbol(symbol, sheet, drawn.file)
        for below in drawn.below:
            child = f"{path}{below.stamp}/"
            sheet.sheet_pins += [SheetPin(child, text, place) for text, place in below.pins]
            file, _ = self.files.below(below.file, above, f"{drawn.file} line {below.line}")
            self.read((*above, file), child, f"{name}{below.name or below.stamp}/")

    def check(self) -> None:
        """
        Refuse a schematic with symbols whose pins are not known.

        Raises:
            BadInput: There are such symbols.
        """
        if self.missing:
            listed = [f"'{name}' ({where})" for name, where in self.missing.items()]
            more = f" and {len(listed) - LISTED} more" if len(listed) > LISTED else ""
            raise BadInput(
                self.files.doing, f"symbols that are in no library: {', '.join(listed[:LISTED])}{more}",
                f"the schematic with its cache library '{_cache(self.files.path).name}' in the same folder",
                "Put that library beside the schematic, or use the board file or an exported netlist instead.",
            )  # fmt: skip

    def _symbol(self, symbol: LegacySymbol, sheet: Sheet, file: str) -> None:
        found = self.library.get(symbol_key(symbol.name)) or self.library.get(symbol_key(symbol.name.split(":")[-1]))
        if found is None:
            self.missing.setdefault(symbol.name, f"{file} line {symbol.line}")
            return
        ref, unit = symbol.uses.get(f"{sheet.path}{symbol.stamp}", (symbol.ref, symbol.unit))
        placed = Placed(ref, symbol.value, symbol.place, symbol.turn, unit, symbol.style,
                        tuple(filter(None, (symbol.name, symbol.footprint))), file, symbol.line,
                        by_value=False)  # fmt: skip
        if not found.power and not ref.startswith("#"):
            self.units.add(placed, found)
        sheet.pins += drawn_pins(placed, found)


def _library(path: Path) -> dict[str, Symbol]:
    """The symbols of the cache library, then of the other libraries beside the schematic."""
    symbols: dict[str, Symbol] = {}
    for file in _libraries(path):
        text = read_text(file, f"the library of {path.name}")
        if text.lstrip().startswith(LIBRARY_HEADER):
            for name, symbol in read_legacy_library(text, file.name).items():
                symbols.setdefault(name, symbol)
    return symbols


def _libraries(path: Path) -> Iterator[Path]:
    cache = _cache(path)
    if cache.is_file():
        yield cache
    yield from sorted(file for file in path.parent.glob("*.lib") if file != cache and file.is_file())


def _cache(path: Path) -> Path:
    return path.with_name(f"{path.stem}-cache.lib")
