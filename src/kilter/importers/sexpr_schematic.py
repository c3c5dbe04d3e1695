"""
S-expression schematics (2021 and later) with all their sheets.

The reference of a symbol depends on the use of its sheet: old files keep a list of uses in the first sheet, later ones
in each symbol. Net names follow docs/importers.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from kilter.importers.description import Description, PartList
from kilter.importers.drawing import Label, Scope, Sheet, SheetPin
from kilter.importers.drawing_nets import connected
from kilter.importers.sexpr import Form, read_form
from kilter.importers.sexpr_figures import figure
from kilter.importers.sexpr_symbols import library_symbols, place_of, unit_of
from kilter.importers.sheet_files import SheetFiles
from kilter.importers.symbols import Placed, Symbol, Turn, Units, drawn_pins
from kilter.measure.errors import BadInput

POWER_BY_VALUE = 20220101
"""Version from which a power symbol's net is its value; before, it is the name of its pin."""

LABELS = {"label": Scope.LOCAL, "hierarchical_label": Scope.PORT, "global_label": Scope.GLOBAL}
ENDING = ".kicad_sch"


@dataclass(frozen=True)
class Page:
    """One file of the schematic: its list and the library symbols in it."""

    form: Form
    symbols: dict[str, Symbol]


def describe_sexpr_schematic(path: Path) -> Description:
    """
    The parts and nets of a schematic, from the file of its first sheet.

    Raises:
        BadInput: A sheet cannot be read, a reference is not annotated or is used twice.
    """
    files = SheetFiles(path, _page)
    parts = PartList(path.name, files.doing)
    reader = _Reader(files, Units(parts))
    first = files.first()
    reader.read(first, (path.resolve(),), "/", "/")
    found = reader.units.finish(connected(reader.sheets))
    title = first.form.form("title_block")
    return Description(
        path.name, f"S-expression schematic, version {first.form.word('version')}, sheets: {len(reader.sheets)}",
        title.word("title"), title.word("rev"), found, None, tuple(parts.warnings),
    )  # fmt: skip


def _page(text: str, file: str) -> Page:
    form = read_form(text, file)
    if form.name != "kicad_sch":
        raise BadInput(f"Cannot read the schematic sheet {file}", f"a list named '{form.name}' at {file} line 1",
                       "an S-expression schematic", "Check that this is the file that was meant.")  # fmt: skip
    return Page(form, library_symbols(form))


class _Reader:
    """Walks through the uses of all sheets."""

    def __init__(self, files: SheetFiles[Page], units: Units) -> None:
        self.files, self.units = files, units
        self.sheets: list[Sheet] = []
        self.uses: dict[str, Form] = {}
        self.aliases: dict[str, Sequence[str]] = {}
        self.root = ""

    def read(self, page: Page, above: tuple[Path, ...], path: str, name: str) -> None:
        """One use of a sheet and everything below it."""
        form = page.form
        if path == "/":
            self.uses = {use.at(1): use for use in form.form("symbol_instances").forms("path")}
            self.root = form.word("uuid")
        sheet = Sheet(path, name, aliases=self.aliases)
        self.sheets.append(sheet)
        _lines(form, sheet)
        for kind, scope in LABELS.items():
            sheet.labels += [Label(label.at(1), place_of(label.form("at")), scope) for label in form.forms(kind)]
        for alias in form.forms("bus_alias"):
            self.aliases[alias.at(1)] = [word for word in alias.form("members")[1:] if isinstance(word, str)]
        for symbol in form.forms("symbol"):
            self._symbol(symbol, page, sheet)
        for below in form.forms("sheet"):
            self._below(below, above, sheet)

    def _symbol(self, form: Form, page: Page, sheet: Sheet) -> None:
        name = form.word("lib_name") or form.word("lib_id")
        symbol = page.symbols.get(name)
        file = form.source.file
        if symbol is None:
            raise BadInput(self.files.doing, f"the symbol '{name}', which the sheet does not carry, at {file} "
                           f"line {form.line}", "sheets that carry their library symbols",
                           "Open and save the schematic with the program that made it.")  # fmt: skip
        placed = self._placed(form, name, page, sheet)
        if not symbol.power and not placed.ref.startswith("#"):
            self.units.add(placed, symbol)
        sheet.pins += drawn_pins(placed, symbol)

    def _placed(self, form: Form, name: str, page: Page, sheet: Sheet) -> Placed:
        fields = _fields(form)
        use = self._use(form, sheet)
        at = form.form("at")
        unit, style = unit_of(use if use.forms("unit") else form)[0], unit_of(form)[1]
        quarter = figure(at, 3, 0.0)
        if quarter % 90:
            raise BadInput(self.files.doing, f"the angle {quarter:g}° in {form.source.file} line {form.line}",
                           "symbols turned by quarter turns", "Turn the symbol and save again.")  # fmt: skip
        version = page.form.word("version")
        return Placed(
            use.word("reference") or fields.get("Reference", ""), use.word("value") or fields.get("Value", ""),
            place_of(at), Turn.of(int(quarter), "".join(map(str, form.form("mirror")[1:]))), unit, style,
            tuple(filter(None, (name, fields.get("Footprint", "")))), form.source.file, form.line,
            not version.isdecimal() or int(version) >= POWER_BY_VALUE,
            form.word("dnp") != "yes" and form.word("on_board") != "no",
        )  # fmt: skip

    def _use(self, form: Form, sheet: Sheet) -> Form:
        """What a use of the sheet says about a symbol: its reference and unit; empty where nothing is said."""
        old = self.uses.get(sheet.path + form.word("uuid"))
        if old is not None:
            return old
        wanted = f"/{self.root}{sheet.path}".rstrip("/")
        paths = [path for project in form.form("instances").forms("project") for path in project.forms("path")]
        exact = [path for path in paths if path.at(1).rstrip("/") == wanted]
        return exact[0] if exact else form.form("no use")

    def _below(self, form: Form, above: tuple[Path, ...], sheet: Sheet) -> None:
        where = f"{form.source.file} line {form.line}"
        title, file = _sheet_fields(form)
        child = f"{sheet.path}{form.word('uuid')}/"
        sheet.sheet_pins += [SheetPin(child, pin.at(1), place_of(pin.form("at"))) for pin in form.forms("pin")]
        path, page = self.files.below(file, above, where)
        self.read(page, (*above, path), child, f"{sheet.name}{title}/")


def _fields(form: Form) -> dict[str, str]:
    return {field.at(1): field.at(2) for field in form.forms("property")}


def _sheet_fields(form: Form) -> tuple[str, str]:
    """Name and file of a sheet; the names of these fields are in the language of whoever drew it."""
    values = [field.at(2) for field in form.forms("property")]
    files = [value for value in values if value.lower().endswith(ENDING)]
    file = files[0] if files else ""
    others = [value for value in values if value != file]
    return (others[0] if others else "") or form.word("uuid"), file


def _lines(form: Form, sheet: Sheet) -> None:
    for kind, lines in (("wire", sheet.wires), ("bus", sheet.buses)):
        for one in form.forms(kind):
            places = [place_of(xy) for xy in one.form("pts").forms("xy")]
            lines += pairwise(places)
    for entry in form.forms("bus_entry"):
        x, y = place_of(entry.form("at"))
        wide, high = place_of(entry.form("size"))
        sheet.entries.append(((x, y), (x + wide, y + high)))
    sheet.junctions += [place_of(one.form("at")) for one in form.forms("junction")]
