"""
IPC-D-356 test records: which pin is on which net, where its pad is, and sometimes the board's edge; no values.

Fields stand in fixed columns (after IPC-D-356A, read second-hand: from writers of the format, not from the standard).
A net name has at most 14 characters and a reference at most 6, so long names come clipped; headers of the form
'NNAME' give the whole name where the writer took the trouble.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from kilter.circuit.layout import Place, Spot
from kilter.importers.description import DescribedPart, Description, PartList
from kilter.importers.outlines import Line, middle_of, placed
from kilter.importers.pads import Pads
from kilter.importers.text_lines import TextLines

PIN_RECORDS = ("317", "327", "367")
"""Through-hole pin, surface pin, hole without plating."""
NO_NET = ("N/C", "")
VIA = "VIA"
NET, REF, PIN = slice(3, 17), slice(20, 26), slice(27, 31)
"""Columns of a record."""
EDGE, EDGE_ON = "389BOARD_EDGE", "089"
"""A record of the board's edge, and one that goes on with it."""
CORNER = re.compile(r"(?:X([+-]?\d{1,7}))?(?:Y([+-]?\d{1,7}))?")
CLIPPED = 14
POSITION = re.compile(r"X([+-]?\d{1,7})Y([+-]?\d{1,7})")
TURN = re.compile(r"R(\d{3})")
UNITS = {"CUST 0": 0.00254, "CUST 1": 0.001, "CUST 2": 0.00254, "CUST": 0.00254, "SI": 0.001}
"""Millimetres in the last digit: ten-thousandths of an inch or thousandths of a millimetre."""


@dataclass
class _Pins:
    """Pads of one part as they are met."""

    line: int
    pads: Pads = field(default_factory=Pads)
    spots: dict[str, Spot] = field(default_factory=dict)
    turn: float = 0.0


def is_ipc356(text: str) -> bool:
    """Whether a text has a pin record or the header of such a file among its first lines."""
    return any(re.match(r"(317|327)\S.{27}|P +(UNITS|JOB|CODE) ", line) for line in text.splitlines()[:200])


def describe_ipc356(text: str, file: str) -> Description:
    """
    The parts and nets of a file of test records.

    Raises:
        BadInput: No pin record, an unknown unit, or a record whose position is no number.
    """
    lines = TextLines(text, file)
    parts = PartList(file, f"Cannot read the test records {file}")
    long_names: dict[str, str] = {}
    found: dict[str, _Pins] = {}
    unit = UNITS["CUST"]
    edge: list[Line] = []
    for line in lines:
        if line.startswith("P "):
            unit = _header(line, unit, long_names, lines)
        elif line[:3] in PIN_RECORDS:
            _record(line, unit, long_names, found, lines)
        elif line.startswith(EDGE) or (line.startswith(EDGE_ON) and edge):
            _edge(line, unit, edge)
        elif line.startswith("999"):
            break
    _report(found, parts)
    for ref, pins in found.items():
        parts.add(DescribedPart(ref, "", pins.pads.pins, (), pins.line, len(pins.pads.numbers)))
    whole = parts.finished()
    places = {ref: Place(middle_of(one.spots.values(), (0.0, 0.0)), one.turn, pads=one.spots)
              for ref, one in found.items() if ref in whole and one.spots}  # fmt: skip
    layout = placed(edge, places, upwards=True)
    return Description(file, "IPC-D-356 test records", parts=whole, layout=layout, warnings=tuple(parts.warnings),
                       has_values=False)  # fmt: skip


def _header(line: str, unit: float, long_names: dict[str, str], lines: TextLines) -> float:
    words = line[1:].split()
    if words[:1] == ["UNITS"]:
        name = " ".join(words[1:3])
        if name not in UNITS:
            raise lines.bad(f"the unit '{name}'", ", ".join(UNITS))
        return UNITS[name]
    if words and words[0].startswith("NNAME") and len(words) > 1:
        long_names[words[0]] = " ".join(words[1:])
    return unit


def _record(line: str, unit: float, long_names: dict[str, str], found: dict[str, _Pins], lines: TextLines) -> None:
    net, ref, pin = line[NET].strip(), line[REF].strip(), line[PIN].strip()
    if not ref or ref == VIA:
        return
    pins = found.setdefault(ref, _Pins(lines.number))
    pins.pads.add(pin, "" if net in NO_NET else long_names.get(net, net))
    position = POSITION.search(line, PIN.stop)
    if position is None:
        raise lines.bad(f"a record of {ref} without a position", "a record with X and Y")
    pins.spots[pin] = (unit * int(position[1]), unit * int(position[2]))
    turn = TURN.search(line, position.end())
    pins.turn = float(turn[1]) if turn else 0.0


def _edge(line: str, unit: float, edge: list[Line]) -> None:
    """Corners of the board's edge; one that leaves x or y out keeps it, a star begins another line."""
    if line.startswith(EDGE):
        edge.append(())
    for number, chain in enumerate(line[len(EDGE) if line.startswith(EDGE) else len(EDGE_ON) :].split("*")):
        if number:
            edge.append(())
        for word in chain.split():
            match = CORNER.fullmatch(word)
            if match is None or not word:
                continue
            before = edge[-1][-1] if edge[-1] else (0.0, 0.0)
            corner = tuple(unit * int(one) if one else old for one, old in zip(match.groups(), before, strict=True))
            edge[-1] = (*edge[-1], (corner[0], corner[1]))


def _report(found: dict[str, _Pins], parts: PartList) -> None:
    parts.warnings.append(f"{parts.file}: the format has no values; add them to the board file.")
    clipped = {one.net for pins in found.values() for one in pins.pads.pins.values() if len(one.net) == CLIPPED}
    if clipped:
        parts.warnings.append(f"{parts.file}: {len(clipped)} net names have {CLIPPED} characters and may be clipped.")
    for ref, pins in found.items():
        for number in pins.pads.split:
            parts.warnings.append(f"{parts.file} line {pins.line}: pin {number} of {ref} is on more than one net.")
