"""
S-expression board files of every version: parts, values, pads, nets, places and the outline, without the copper.

Old versions say `module` and `fp_text`, new ones `footprint` and `property`; a pad's net is given by number and name,
by number alone or by name alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sin

from kilter.circuit.layout import Place, Spot
from kilter.importers.description import Connection, DescribedPart, Description, PartList
from kilter.importers.outlines import Line, arc_about, arc_through, circle, middle_of, placed
from kilter.importers.pads import Pads
from kilter.importers.sexpr import Form, read_form
from kilter.importers.sexpr_figures import figure, spot

EDGE = "Edge.Cuts"
NEWEST = 20241229
"""Newest version of the format that files were tried of."""


def describe_sexpr_board(text: str, file: str) -> Description:
    """
    The parts and nets of a board file.

    Raises:
        BadInput: The text is no board, a number in it is none, a reference is not annotated or is used twice.
    """
    form = read_form(text, file)
    parts = PartList(file, f"Cannot read the board file {file}")
    names = {net.at(1): net.at(2) for net in form.forms("net")}
    places: dict[str, Place] = {}
    outline = list(_edges(form))
    for footprint in (one for one in form if isinstance(one, Form) and one.name in ("footprint", "module")):
        part, place, edges = _part(footprint, names, parts)
        outline += edges
        if part is not None:
            parts.add(part)
            places[part.ref] = place
    found = parts.finished()
    layout = placed(outline, {ref: places[ref] for ref in found})
    if not outline:
        parts.warnings.append(f"{file}: no outline is drawn, so positions start from the outermost pads.")
    version = form.word("version")
    if not version.isdecimal() or int(version) > NEWEST:
        parts.warnings.append(f"{file}: version '{version}' of the format is newer than any that was tried.")
    title = form.form("title_block")
    return Description(
        file, f"S-expression board file, version {version}", title.word("title"), title.word("rev"), found, layout,
        tuple(parts.warnings),
    )  # fmt: skip


def _part(footprint: Form, names: dict[str, str], parts: PartList) -> tuple[DescribedPart | None, Place, list[Line]]:
    texts = _texts(footprint)
    ref, value = texts.get("reference", ""), texts.get("value", "")
    at = footprint.form("at")
    origin, turn = (spot(at), figure(at, 3, 0.0)) if len(at) > 1 else ((0.0, 0.0), 0.0)
    pads, spots = Pads(), {}
    for pad in footprint.forms("pad"):
        pads.add(pad.at(1), _net(pad, names), pad.word("pinfunction"))
        if len(pad.form("at")) > 1:
            spots[pad.at(1)] = _turned(spot(pad.form("at")), origin, turn)
    for number in pads.split:
        parts.warnings.append(f"{parts.file} line {footprint.line}: pad {number} of {ref} is on more than one net.")
    place = Place(middle_of(spots.values(), origin), turn, footprint.word("layer").startswith("B."), spots)
    edges = [tuple(_turned(one, origin, turn) for one in line) for line in _edges(footprint, "fp")]
    if "dnp" in footprint.form("attr"):
        parts.warnings.append(f"{parts.file} line {footprint.line}: {ref} is marked as not fitted and is left out.")
        return None, place, edges
    pins: dict[str, Connection] = pads.pins
    library = footprint.at(1)
    return DescribedPart(ref, value, pins, (library,), footprint.line, len(pads.numbers)), place, edges


def _texts(footprint: Form) -> dict[str, str]:
    """The reference and value, whichever way the version writes them."""
    found: dict[str, str] = {}
    for one in footprint:
        if isinstance(one, Form) and one.name in ("fp_text", "property"):
            found.setdefault(one.at(1).lower(), one.at(2))
    return found


def _net(pad: Form, names: dict[str, str]) -> str:
    net = pad.form("net")
    if len(net) > 2:
        return net.at(2)
    return names.get(net.at(1), "" if net.at(1) == "0" else net.at(1))


def _turned(offset: Spot, origin: Spot, turn: float) -> Spot:
    """Where an offset in a part lies on the board; y goes downwards and angles anticlockwise."""
    c, s = cos(radians(turn)), sin(radians(turn))
    return (origin[0] + offset[0] * c + offset[1] * s, origin[1] - offset[0] * s + offset[1] * c)


def _edges(form: Form, kind: str = "gr") -> Iterator[Line]:
    """The lines of the board's edge that are drawn in a board ('gr') or in a part ('fp')."""
    for one in form:
        if isinstance(one, Form) and one.name.startswith(kind) and one.word("layer") == EDGE:
            yield _edge(one, one.name.removeprefix(kind))


def _edge(one: Form, shape: str) -> Line:
    if shape in ("_poly", "_curve"):
        spots = [spot(xy) for xy in one.form("pts").forms("xy")]
        return (*spots, spots[0]) if spots and shape == "_poly" else tuple(spots)
    if shape == "_circle":
        return circle(spot(one.form("center")), spot(one.form("end")))
    if shape not in ("_line", "_arc", "_rect"):
        return ()
    start, end = spot(one.form("start")), spot(one.form("end"))
    if shape == "_rect":
        return (start, (end[0], start[1]), end, (start[0], end[1]), start)
    if shape == "_line":
        return (start, end)
    if one.forms("mid"):
        return arc_through(start, spot(one.form("mid")), end)
    return arc_about(start, end, radians(figure(one.form("angle"), 1)))
