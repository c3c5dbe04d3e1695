"""Documents made from the structure of LIDO 1.1: one that uses all of it, and ones that break one demand each."""

from __future__ import annotations

import copy
import sys
from collections.abc import Iterator
from pathlib import Path

from lxml import etree

ROOT = Path(__file__).parents[2]
sys.path.append(str(ROOT / "builders"))

from build_lido_schema import SPACES  # noqa: E402
from build_lido_schema import text as built  # noqa: E402, F401
from lido_structure import Kind, Piece, Structure, read_structure  # noqa: E402

AUTHORITY = ROOT / "authorities" / "lido"
STRUCTURE = read_structure((AUTHORITY / "lido-1.1.txt").read_text("utf-8"))
LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"
OF_OTHERS = {"owl": "sameAs", "skos": "Concept"}


class Whole:
    """Makes one document that has every element and every attribute of the structure at least once."""

    def __init__(self, structure: Structure = STRUCTURE) -> None:
        self.structure = structure
        self.filled: dict[str, etree._Element] = {}
        """For each type the element in which everything it may have stands."""
        self.pieces: dict[etree._Element, tuple[Piece, ...]] = {}
        self.attributes: dict[etree._Element, tuple[str, ...]] = {}
        self.document = etree.Element(tag("lidoWrap"), nsmap=SPACES)
        self._fill(self.document, Piece("lidoWrap", "", kind="lidoWrap"))

    def _fill(self, inside: etree._Element, piece: Piece) -> None:
        kind = self.structure.kinds[piece.kind]
        place = piece.kind + "".join(sorted(piece.attributes)) + ("+" if piece.more else "")
        first = place not in self.filled
        self.filled.setdefault(place, inside)
        self.pieces[inside], self.attributes[inside] = kind.pieces + piece.more, kind.attributes + piece.attributes
        for told in self.attributes[inside]:
            if first or told.endswith("!"):
                set_attribute(inside, told.rstrip("!"), self.structure)
        if kind.words:
            inside.text = "words"
        for one in self.pieces[inside]:
            if first or one.often in ("", "+"):
                made = etree.SubElement(inside, name_of(one))
                if one.kind:
                    self._fill(made, one)


def tag(name: str, space: str = "lido") -> str:
    """Name with its namespace."""
    return f"{{{SPACES[space]}}}{name}"


def name_of(piece: Piece) -> str:
    """What an element of it is called, with its namespace."""
    if piece.any:
        return tag(OF_OTHERS[piece.name], piece.name)
    return tag(piece.name.split(":")[1], piece.name.split(":")[0]) if not piece.kind else tag(piece.name)


def set_attribute(inside: etree._Element, name: str, structure: Structure, value: str = "") -> None:
    """The attribute with a value that its kind allows, or with this one."""
    kind = structure.attributes.get(name, ("", ""))[0]
    usual = {"integer": "1", "": "en"}.get(kind, kind.split("|")[0])
    inside.set(LANGUAGE if name == "xml:lang" else tag(name), value or usual)


def broken(whole: Whole) -> Iterator[tuple[str, etree._Element]]:
    """What is broken, and the document with that and nothing else broken."""
    for place, one in whole.filled.items():
        kind = whole.structure.kinds[one_kind(place, whole.structure)]
        for words, change in (*_order(whole.pieces[one]), *_attributes(whole.attributes[one], whole.structure, kind)):
            yield f"{place}: {words}", _changed(whole.document, one, change)


def strange(whole: Whole) -> Iterator[tuple[etree._Element, set[str]]]:
    """For each type the document with all attributes of LIDO that may not stand there, and their names."""
    for one in whole.filled.values():
        allowed = {told.rstrip("!") for told in whole.attributes[one]}
        names = (set(whole.structure.attributes) | {"xml:lang"}) - allowed

        def change(at: etree._Element, names: set[str] = names) -> None:
            for name in names:
                set_attribute(at, name, whole.structure)

        yield _changed(whole.document, one, change), names


def one_kind(place: str, structure: Structure) -> str:
    """Longest name of a type that the place begins with."""
    return max((name for name in structure.kinds if place.startswith(name)), key=len)


def _changed(document: etree._Element, one: etree._Element, change: object) -> etree._Element:
    path = document.getroottree().getpath(one)
    made = copy.deepcopy(document)
    found = made.getroottree().xpath(path, namespaces=SPACES)[0]
    change(found)  # type: ignore[operator]
    return made


def _order(pieces: tuple[Piece, ...]) -> Iterator[tuple[str, object]]:
    for number, piece in enumerate(pieces):
        name = name_of(piece)
        if piece.often in ("", "?"):
            yield f"{piece.name} twice", lambda at, name=name: at.find(name).addnext(copy.deepcopy(at.find(name)))
        if piece.often in ("", "+"):
            yield f"no {piece.name}", lambda at, name=name: [at.remove(one) for one in at.findall(name)]
        if number:
            before = name_of(pieces[number - 1])
            yield f"{piece.name} too early", lambda at, name=name, to=before: at.find(to).addprevious(at.find(name))


def _attributes(told: tuple[str, ...], structure: Structure, kind: Kind) -> Iterator[tuple[str, object]]:
    for one in told:
        name = one.rstrip("!")
        if one.endswith("!"):
            key = LANGUAGE if name == "xml:lang" else tag(name)
            yield f"without {name}", lambda at, key=key: at.attrib.pop(key)
        if structure.attributes.get(name, ("",))[0] != "string":
            yield f"{name} of another kind", lambda at, name=name: set_attribute(at, name, structure, "?!")
    yield "an attribute that nobody knows", lambda at: at.set(tag("unheard"), "1")
    yield "an attribute without namespace", lambda at: at.set("type", "1")
    yield "an element that nobody knows", lambda at: at.append(etree.Element(tag("unheard")))
    if not (kind.words or kind.mixed):
        yield "words between the elements", lambda at: setattr(at, "text", "words")
