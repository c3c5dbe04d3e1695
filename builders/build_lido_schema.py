"""Writes authorities/lido/lido-1.1.xsd from the structure in lido-1.1.txt: python builders/build_lido_schema.py."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

from lido_structure import Kind, Piece, Structure, read_structure

FOLDER = Path(__file__).parents[1] / "authorities" / "lido"
SOURCE, TARGET = FOLDER / "lido-1.1.txt", FOLDER / "lido-1.1.xsd"
XS = "http://www.w3.org/2001/XMLSchema"
SPACES = {
    "lido": "http://www.lido-schema.org",
    "gml": "http://www.opengis.net/gml",
    "owl": "http://www.w3.org/2002/07/owl#",
    "skos": "http://www.w3.org/2004/02/skos/core#",
}
IMPORTED = {"http://www.w3.org/XML/1998/namespace": "xml-lang.xsd", SPACES["gml"]: "gml-places.xsd"}
BOUNDS = {"": {}, "?": {"minOccurs": "0"}, "*": {"minOccurs": "0", "maxOccurs": "unbounded"},
          "+": {"maxOccurs": "unbounded"}}  # fmt: skip
HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    "<!-- The structure of LIDO 1.1 (ICOM-CIDOC, 2021-12-20, CC BY 4.0), rewritten. Made from lido-1.1.txt by\n"
    "     builders/build_lido_schema.py; see README.md. -->\n"
)


def schema(structure: Structure) -> str:
    """The schema as the file has it."""
    top = ET.Element("xs:schema", {"xmlns:xs": XS, "xmlns:lido": SPACES["lido"], "xmlns:gml": SPACES["gml"],
                                   "targetNamespace": SPACES["lido"], "elementFormDefault": "qualified",
                                   "attributeFormDefault": "qualified"})  # fmt: skip
    for space, place in IMPORTED.items():
        ET.SubElement(top, "xs:import", {"namespace": space, "schemaLocation": place})
    for name, (kind, default) in structure.attributes.items():
        if name not in structure.local:
            made = ET.SubElement(top, "xs:attribute", {"name": name, **({"default": default} if default else {})})
            if "|" in kind:
                limits = ET.SubElement(ET.SubElement(made, "xs:simpleType"), "xs:restriction", {"base": "xs:string"})
                for word in kind.split("|"):
                    ET.SubElement(limits, "xs:enumeration", {"value": word})
            else:
                made.set("type", f"xs:{kind}")
    for name, one in structure.kinds.items():
        _type(top, name, one, structure)
    for name in structure.roots:
        ET.SubElement(top, "xs:element", {"name": name, "type": f"lido:{name}"})
    ET.indent(top)
    return HEAD + ET.tostring(top, encoding="unicode") + "\n"


def _type(top: ET.Element, name: str, one: Kind, structure: Structure) -> None:
    made = ET.SubElement(top, "xs:complexType", {"name": name, **({"mixed": "true"} if one.mixed else {})})
    if one.words:
        inside = ET.SubElement(ET.SubElement(made, "xs:simpleContent"), "xs:extension", {"base": "xs:string"})
        _attributes(inside, one.attributes, structure)
        return
    _sequence(made, one.pieces, structure)
    _attributes(made, one.attributes, structure)


def _sequence(parent: ET.Element, pieces: tuple[Piece, ...], structure: Structure) -> None:
    inside = ET.SubElement(parent, "xs:sequence")
    for piece in pieces:
        bounds = BOUNDS[piece.often]
        if piece.any:
            ET.SubElement(inside, "xs:any", {"namespace": SPACES[piece.name], "processContents": "skip", **bounds})
        elif not piece.kind:
            ET.SubElement(inside, "xs:element", {"ref": piece.name, **bounds})
        elif not (piece.attributes or piece.more):
            ET.SubElement(inside, "xs:element", {"name": piece.name, "type": f"lido:{piece.kind}", **bounds})
        else:
            made = ET.SubElement(ET.SubElement(inside, "xs:element", {"name": piece.name, **bounds}), "xs:complexType")
            content = "xs:simpleContent" if structure.kinds[piece.kind].words else "xs:complexContent"
            wider = ET.SubElement(ET.SubElement(made, content), "xs:extension", {"base": f"lido:{piece.kind}"})
            if piece.more:
                _sequence(wider, piece.more, structure)
            _attributes(wider, piece.attributes, structure)


def _attributes(parent: ET.Element, names: tuple[str, ...], structure: Structure) -> None:
    for told in names:
        name, must = told.rstrip("!"), {"use": "required"} if told.endswith("!") else {}
        if name in structure.local:
            ET.SubElement(parent, "xs:attribute", {"name": name, "type": f"xs:{structure.attributes[name][0]}", **must})
        else:
            ET.SubElement(parent, "xs:attribute", {"ref": name if ":" in name else f"lido:{name}", **must})


def text() -> str:
    """The schema of the structure as it lies in the folder."""
    return schema(read_structure(SOURCE.read_text("utf-8")))


if __name__ == "__main__":
    TARGET.write_text(text(), "utf-8")
    print(f"{TARGET.name}: {TARGET.stat().st_size} bytes")
