"""
Nets of the drawn schematics of tests/boards as an independent reader sees them.

Run: python builders/build_board_authority.py   (needs the package with the import name kicad_monkey; 2026.9.7 was used)

The reader is a separate implementation (MIT licence) that works out nets from S-expression schematics. Its nets go as
they are into authorities/boards/, one file a drawing: net name to the sorted 'reference.pin' names on it.
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests" / "boards"))

import drawings  # noqa: E402
import drawn  # noqa: E402
import kicad_monkey  # noqa: E402

VERSION = 20231120


def nets(path: Path) -> dict[str, list[str]]:
    """Net name to the pins on it; nets of one pin with an automatic name are left out."""
    design = kicad_monkey.KiCadDesign.from_schematic_file(path)
    found = {}
    for net in design.to_netlist().nets:
        pins = sorted(f"{one.designator}.{one.pin}" for one in net.terminals)
        if len(pins) > 1 or not net.name.startswith(("Net-(", "unconnected-(")):
            found[net.name] = pins
    return found


def main() -> None:
    """Write one file for each drawing."""
    for name in ("turned", "powered", "crossed", "sheets"):
        made = getattr(drawings, name)()
        sheets, uses = made if isinstance(made, tuple) else (made, None)
        with tempfile.TemporaryDirectory() as folder:
            path = drawn.write_sexpr(Path(folder), sheets, VERSION, uses=uses)
            found = nets(path)
        target = ROOT / "authorities" / "boards" / f"{name}.json"
        target.write_text(json.dumps({"reader": "kicad_monkey 2026.9.7", "nets": found}, indent=1) + "\n")
        print(target.name, len(found), "nets")


if __name__ == "__main__":
    main()
