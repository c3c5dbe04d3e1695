"""Outlines files: where the parts are on a known-good picture or on the board; see docs/thermal.md for their form."""

from __future__ import annotations

import math
from pathlib import Path

from kilter.circuit.board import Board
from kilter.circuit.layout import Layout
from kilter.importers.known_names import KnownNames
from kilter.importers.toml_tables import Table, read_toml
from kilter.thermal.figures import number, surfaces
from kilter.thermal.outlines import Corner, Outline, Outlines, narrowest

EDITION = 1
UNITS = ("px", "mm")
FARTHEST = 1e5


def read_part_outlines(path: Path, board: Board) -> Outlines:
    """
    The outlines in a file.

    Raises:
        BadInput: It cannot be read, or names a part that the board does not have.
    """
    file = read_toml(path, "the outlines")
    edition = file.take("kilter_outlines")
    if edition != EDITION or isinstance(edition, bool):
        raise file.bad("kilter_outlines", edition, f"kilter_outlines = {EDITION}, the edition of the format",
                       "Write it in the first line.")  # fmt: skip
    unit = file.text("unit", "px")
    if unit not in UNITS:
        raise file.bad("unit", unit, " or ".join(UNITS), 'Write unit = "px" or unit = "mm".')
    known = KnownNames("part", board.parts)
    found = {}
    for name, row in file.tables("outlines"):
        ref = known.find(name, file.doing, row.place)
        found[ref] = _outline(ref, row)
    file.done()
    if not found:
        raise file.bad("outlines", None, "one table [outlines.PART] or more", "Write the outline of a part.")
    return Outlines(found, unit)


def outlines_of_layout(layout: Layout, board: Board) -> Outlines:
    """Outlines in millimetres from the pads of a board file, with a margin; parts of one pad are left out."""
    found = {}
    for ref, place in layout.places.items():
        if ref in board.parts and len(place.pads) > 1 and not place.bottom:
            xs, ys = zip(*place.pads.values(), strict=True)
            grown = number("pad_margin")
            box = (min(xs) - grown, min(ys) - grown, max(xs) + grown, max(ys) + grown)
            found[ref] = Outline(ref, _box(box))
    return Outlines(found, "mm")


def _outline(ref: str, row: Table) -> Outline:
    box, corners = row.take("box"), row.take("corners")
    surface = row.text("surface", "unknown")
    if surface not in surfaces():
        raise row.bad("surface", surface, ", ".join(surfaces()), "Use one of these words.")
    row.done()
    if (box is None) == (corners is None):
        raise row.bad("box", box, "either box = [left, top, right, bottom] or corners = [[x, y], ...]", "Write one.")
    if box is not None:
        if not _numbers(box, 4) or box[0] >= box[2] or box[1] >= box[3]:
            raise row.bad("box", box, "[left, top, right, bottom], x to the right and y downwards", "Correct the box.")
        return Outline(ref, _box(tuple(map(float, box))), surface)
    if not isinstance(corners, list) or not 3 <= len(corners) <= 100 or not all(_numbers(one, 2) for one in corners):
        raise row.bad("corners", corners, "three corners [x, y] or more, in order around the part", "Write them.")
    found = Outline(ref, tuple((float(x), float(y)) for x, y in corners), surface)
    if narrowest(found) <= 0:
        raise row.bad("corners", corners, "corners that enclose something", "Correct the corners.")
    return found


def _box(box: tuple[float, ...]) -> tuple[Corner, ...]:
    left, top, right, bottom = box
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def _numbers(value: object, count: int) -> bool:
    return (
        isinstance(value, list) and len(value) == count
        and all(isinstance(v, (int, float)) and not isinstance(v, bool) and math.isfinite(v) and abs(v) < FARTHEST
                for v in value)
    )  # fmt: skip
