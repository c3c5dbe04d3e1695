"""
XML board files (.brd): parts, values, pads, nets, places and the outline, without the copper.

Lengths are millimetres, y upwards. How a mirrored part is turned is written down from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from math import cos, radians, sin, tan

from kilter.circuit.layout import Place, Spot
from kilter.importers.description import DescribedPart, Description, PartList
from kilter.importers.outlines import Line, arc_about, circle, middle_of, placed
from kilter.importers.pads import Pads
from kilter.importers.xml_tree import Tag, read_tree
from kilter.measure.errors import BadInput

EDGE = "20"
"""Layer of the board's edge."""
TURN = re.compile(r"(S?)(M?)(S?)R(\d+(?:\.\d+)?)")


def describe_xml_board(text: str, file: str) -> Description:
    """
    The parts and nets of a board file.

    Raises:
        BadInput: The text is no such file, a number in it is none, a net names an unknown part.
    """
    tree = read_tree(text, file)
    board = drawing_of(tree, "board", file)
    parts = PartList(file, f"Cannot read the board file {file}")
    elements = {element.get("name"): element for element in board.all("elements", "element")}
    nets = _contacts(board, elements, parts)
    packages = {key: package for library in board.all("libraries", "library") for key, package in _packages(library)}
    places: dict[str, Place] = {}
    for ref, element in elements.items():
        key = (*library_of(element), element.get("package"))
        package = packages.get(key, Tag("package", {}, element.line, file))
        parts.add(_part(element, package, nets.get(ref, []), parts))
        places[ref] = _place(element, package)
    found = parts.finished()
    layout = placed([*_edges(board.first("plain"))], {ref: places[ref] for ref in found}, upwards=True)
    return Description(file, f"XML board file, version {tree.get('version')}", "", "", found, layout,
                       tuple(parts.warnings))  # fmt: skip


def drawing_of(tree: Tag, what: str, file: str) -> Tag:
    """
    The board or schematic of a document.

    Raises:
        BadInput: It is another kind of document.
    """
    if any(True for _ in tree.all("drawing", what)):
        return tree.first("drawing", what)
    raise BadInput(f"Cannot read {file}", f"an XML document without a {what} at {file} line {tree.line}",
                   f"an XML {what}", "Check that this is the file that was meant.")  # fmt: skip


def library_of(tag: Tag) -> tuple[str, str]:
    """Name and source of the library that a part is from; several libraries may share a name."""
    return tag.get("library"), tag.get("library_urn")


def _packages(library: Tag) -> Iterator[tuple[tuple[str, str, str], Tag]]:
    for package in library.all("packages", "package"):
        yield (library.get("name"), library.get("urn"), package.get("name")), package


def _contacts(board: Tag, elements: dict[str, Tag], parts: PartList) -> dict[str, list[tuple[str, str]]]:
    """Reference to the (pad, net) pairs of its connected pads."""
    found: dict[str, list[tuple[str, str]]] = {}
    for signal in board.all("signals", "signal"):
        for contact in signal.all("contactref"):
            ref = contact.get("element")
            if ref not in elements:
                raise BadInput(parts.doing, f"the part '{ref}' in a net but not among the parts, at {parts.file} "
                               f"line {contact.line}", "nets over the listed parts",
                               "Save the board again with the program that made it.")  # fmt: skip
            found.setdefault(ref, []).append((contact.get("pad"), signal.get("name")))
    return found


def _part(element: Tag, package: Tag, contacts: list[tuple[str, str]], parts: PartList) -> DescribedPart:
    pads = Pads()
    nets = dict(contacts)
    own = [pad.get("name") for pad in _pads(package)]
    for number in own:
        pads.add(number, nets.get(number, ""))
    for number, net in contacts:
        pads.add(number, net)
        if own and number not in own:
            parts.warnings.append(f"{parts.file} line {element.line}: {element.get('name')} has no pad '{number}', "
                                  "but a net names it.")  # fmt: skip
    ref, value = element.get("name"), element.get("value")
    return DescribedPart(ref, value, pads.pins, (element.get("package"),), element.line, len(pads.numbers))


def _pads(package: Tag) -> Iterable[Tag]:
    return (tag for tag in package.inside if tag.name in ("pad", "smd"))


def _place(element: Tag, package: Tag) -> Place:
    turn, mirrored = _turn(element)
    at = (element.figure("x"), element.figure("y"))
    spots = {}
    for pad in _pads(package):
        x, y = _turned((pad.figure("x"), pad.figure("y")), radians(turn))
        spots[pad.get("name")] = (at[0] - x if mirrored else at[0] + x, at[1] + y)
    return Place(middle_of(spots.values(), at), turn, mirrored, spots)


def _turn(element: Tag) -> tuple[float, bool]:
    match = TURN.fullmatch(element.get("rot") or "R0")
    if match is None:
        raise BadInput(f"Cannot read {element.file}", f"rot='{element.get('rot')}' at {element.file} line "
                       f"{element.line}", "a rotation such as R90 or MR270",
                       "Save the board again with the program that made it.")  # fmt: skip
    return float(match[4]) % 360, bool(match[2])


def _turned(spot: Spot, angle: float) -> Spot:
    return (spot[0] * cos(angle) - spot[1] * sin(angle), spot[0] * sin(angle) + spot[1] * cos(angle))


def _edges(plain: Tag) -> Iterator[Line]:
    for tag in plain.inside:
        if tag.get("layer") != EDGE:
            continue
        if tag.name == "wire":
            start, end = (tag.figure("x1"), tag.figure("y1")), (tag.figure("x2"), tag.figure("y2"))
            yield _arc(start, end, radians(tag.figure("curve")))
        elif tag.name == "circle":
            x, y, radius = tag.figure("x"), tag.figure("y"), tag.figure("radius")
            yield circle((x, y), (x + radius, y))


def _arc(start: Spot, end: Spot, curve: float) -> Line:
    """A wire that turns by an angle on its way; straight where the angle is 0."""
    if abs(tan(curve / 2)) < 1e-6 or start == end:
        return (start, end)
    height = 0.5 / tan(curve / 2)
    wide, high = end[0] - start[0], end[1] - start[1]
    centre = ((start[0] + end[0]) / 2 - high * height, (start[1] + end[1]) / 2 + wide * height)
    return arc_about(centre, start, curve)
