"""
Reads pin numbers, names and electrical types out of symbol libraries, for the types of the catalogue.

Run: python builders/build_pinouts.py FOLDER   (a folder of .kicad_sym files, release 6.0.10 was used)

Writes authorities/pinouts/symbols.json: catalogue key to the file, the symbol and its pins, number to
[name, electrical type, unit]. Only these facts are kept, no drawing. Then says in data/catalogue/checked.toml which
types were compared; a type listed in DIFFERENT is not, with the reason.
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

from kilter.importers.sexpr import read_form
from kilter.parts.catalogue import catalogue_types

ROOT = Path(__file__).resolve().parents[1]
OUT = ROOT / "authorities" / "pinouts"
CHECKED = ROOT / "src" / "kilter" / "data" / "catalogue" / "checked.toml"

CHOSEN = json.loads((OUT / "chosen.json").read_text("utf-8"))
"""Catalogue key to 'library:symbol' where the rule of names does not lead there, or null with the reason."""


def names_of(key: str) -> list[str]:
    """Symbols that may stand for a type, the preferred one first."""
    if key in CHOSEN["symbols"]:
        return [CHOSEN["symbols"][key]]
    if key in CHOSEN["different"]:
        return []
    if match := re.fullmatch(r"74(\d+)", key):
        heads = ("74xx:74LS", "74xx:74HC", "74xx:74", "74xx_IEEE:74", "74xx_IEEE:74LS", "74xx_IEEE:74HC")
        return [head + match[1] for head in heads]
    return [f"4xxx:{key}", f"4xxx_IEEE:{key}"] if re.fullmatch(r"4\d+", key) else []


def symbols(path: Path) -> dict[str, dict[str, list[object]]]:
    """Symbol name to its pins, by number; what a symbol extends is followed."""
    tree = read_form(path.read_text("utf-8"), path.name)
    rows = {str(row[1]): row for row in tree if isinstance(row, list) and row and row[0] == "symbol"}
    found = {}
    for name, row in rows.items():
        while extended := [item[1] for item in row if isinstance(item, list) and item[0] == "extends"]:
            row = rows[str(extended[0])]
        found[name] = _pins(row)
    return found


def _pins(row: list[object]) -> dict[str, list[object]]:
    found: dict[str, list[object]] = {}
    for unit in row:
        if not isinstance(unit, list) or unit[0] != "symbol":
            continue
        number, style = str(unit[1]).rsplit("_", 2)[1:]
        for pin in unit:
            if isinstance(pin, list) and pin[0] == "pin" and style in ("0", "1"):
                said = {item[0]: str(item[1]) for item in pin if isinstance(item, list) and len(item) > 1}
                found.setdefault(said["number"], [said["name"], str(pin[1]), int(number)])
    return found


def main(folder: str) -> None:
    """Write the authority and the list of compared types."""
    libraries = {path.stem: symbols(path) for path in sorted(Path(folder).rglob("*.kicad_sym"))}
    found = {}
    for key, kind in catalogue_types().items():
        known = [name for name in names_of(key) if name.split(":")[1] in libraries.get(name.split(":")[0], {})]
        if kind.pins and known:
            library, symbol = known[0].split(":")
            pins = libraries[library][symbol]
            found[key] = {"file": f"{library}.kicad_sym", "symbol": symbol, "pins": pins}
    lines = ",\n".join(f"{json.dumps(key)}: {json.dumps(row)}" for key, row in sorted(found.items()))
    (OUT / "symbols.json").write_text("{\n" + lines + "\n}\n", "utf-8")
    typed = json.loads((OUT / "typed.json").read_text("utf-8"))
    head = CHECKED.read_text("utf-8").splitlines()[0]
    rows = [f'{key} = "authorities/pinouts/symbols.json"' for key in sorted(found)]
    rows += [f'{key} = "authorities/pinouts/typed.json"' for key in sorted(set(typed) - set(found))]
    CHECKED.write_text("\n".join([head, *rows]) + "\n", "utf-8")


if __name__ == "__main__":
    main(sys.argv[1])
