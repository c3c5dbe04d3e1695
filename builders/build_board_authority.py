"""
What independent programs make of the drawings and the board of tests/boards.

Run: python builders/build_board_authority.py MODULE:CLASS   (needs gerbonara, 1.6.3 was used)

- An independent reader of S-expression schematics works out nets: NAME.json, net name to the sorted 'reference.pin'
  names on it. CLASS is the reader's design class, with from_schematic_file(path).to_netlist(); a package under the MIT
  licence, release 2026.9.7, was used.
- The writer gerbonara (Apache licence) writes IPC-D-356 records of the board in layouts.py: records-inch.d356 and
  records-mm.d356, with whole net names and the board's edge.
"""

from __future__ import annotations

import json
import sys
import tempfile
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests" / "boards"))

import drawings  # noqa: E402
import drawn  # noqa: E402
import layouts  # noqa: E402
from gerbonara import ipc356  # noqa: E402
from gerbonara.utils import MM, Inch  # noqa: E402

VERSION = 20231120
READER = "an independent reader of the format, release 2026.9.7"


def nets(design_class: type, path: Path) -> dict[str, list[str]]:
    """Net name to the pins on it; nets of one pin with an automatic name are left out."""
    design = design_class.from_schematic_file(path)
    found = {}
    for net in design.to_netlist().nets:
        pins = sorted(f"{one.designator}.{one.pin}" for one in net.terminals)
        if len(pins) > 1 or not net.name.startswith(("Net-(", "unconnected-(")):
            found[net.name] = pins
    return found


def records(unit: object) -> bytes:
    """The board in layouts.py as IPC-D-356 records; y goes upwards, from the lower left corner of the outline."""
    tests = []
    for part in layouts.PARTS:
        for number, offset, net in part.pads:
            x, y = layouts.turned(part, offset)
            net = net and layouts.LONG_NAMES.get(net, net)
            if part.ref[0] in "RCUJT" and "*" not in part.ref:
                test = ipc356.TestRecord(
                    pad_type=ipc356.PadType.THROUGH_HOLE, net_name=net or None, is_connected=bool(net),
                    ref_des=part.ref, pin_num=number, hole_dia=0.8, is_plated=True, access_layer=0, x=x,
                    y=layouts.SIZE[1] - y, w=1.5, h=1.5, rotation=0, solder_mask=0, unit=MM,
                )  # fmt: skip
                test.leftover = ""  # the writer asks for it and does not set it
                tests.append(test)
    wide, high = layouts.SIZE
    edge = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high), (0.0, 0.0)]
    outline = ipc356.Outline(ipc356.OutlineType.BOARD_EDGE, edge, unit=MM)
    settings = ipc356.FileSettings(unit=unit, number_format=(5, 6))
    return ipc356.Netlist(tests, outlines=[outline]).write_to_bytes(settings)


def main() -> None:
    """Write one file for each drawing, and the records in both units."""
    module, _, name = sys.argv[1].partition(":")
    design_class = getattr(import_module(module), name)
    for name, unit in (("inch", Inch), ("mm", MM)):
        (ROOT / "authorities" / "boards" / f"records-{name}.d356").write_bytes(records(unit))
    for name in ("turned", "powered", "crossed", "sheets"):
        made = getattr(drawings, name)()
        sheets, uses = made if isinstance(made, tuple) else (made, None)
        with tempfile.TemporaryDirectory() as folder:
            path = drawn.write_sexpr(Path(folder), sheets, VERSION, uses=uses)
            found = nets(design_class, path)
        target = ROOT / "authorities" / "boards" / f"{name}.json"
        target.write_text(json.dumps({"reader": READER, "nets": found}, indent=1) + "\n")
        print(target.name, len(found), "nets")


if __name__ == "__main__":
    main()
