"""
What PDF/A-2a (ISO 19005-2:2011) asks of a file, read off its objects through a general PDF library.

Each check names its clause; clause numbers are from memory of the standard. Not looked at: the operators inside page
contents, glyph widths against font programs, and whether tags say the right thing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from io import BytesIO
from typing import Any

import pikepdf
from PIL import ImageCms

FORBIDDEN_ACTIONS = {
    "/Launch", "/Sound", "/Movie", "/ResetForm", "/ImportData", "/Hide", "/SetOCGState", "/Rendition", "/Trans",
    "/GoTo3DView", "/JavaScript",
}  # fmt: skip
FORBIDDEN_NOTES = {"/3D", "/Sound", "/Screen", "/Movie"}
NAMED_ACTIONS = {"/NextPage", "/PrevPage", "/FirstPage", "/LastPage"}
PRINT, HIDDEN, INVISIBLE, NO_VIEW, TOGGLE = 4, 2, 1, 32, 256


def offences(data: bytes) -> list[str]:
    """Clauses that the file offends against, with what was found; none for a file that passes."""
    with pikepdf.open(BytesIO(data)) as file:
        return [f"{clause}: {found}" for clause, check in CHECKS for found in check(file, data)]


def _header(_: pikepdf.Pdf, data: bytes) -> Iterator[str]:
    first, second = data.split(b"\n", 2)[:2]
    if not (first[:7] == b"%PDF-1." and len(first.strip()) == 8):
        yield f"the file begins with {first[:12]!r}"
    if not (second[:1] == b"%" and len(second) >= 5 and all(byte > 127 for byte in second[1:5])):
        yield "no comment of four bytes above 127 after the header"


def _trailer(file: pikepdf.Pdf, data: bytes) -> Iterator[str]:
    if "/ID" not in file.trailer or len(file.trailer.ID) != 2:
        yield "no file identifier"
    if file.is_encrypted:
        yield "encrypted"
    if data.rpartition(b"%%EOF")[2].strip(b"\r\n"):
        yield "something follows the end of the file"


def _streams(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    for one in _all(file, pikepdf.Stream):
        if {"/F", "/FFilter", "/FDecodeParms"} & set(one.stream_dict.keys()):
            yield "a stream lies in another file"
        filters = one.get("/Filter", [])
        names = [filters] if isinstance(filters, pikepdf.Name) else list(filters)
        if any(name in ("/LZWDecode", "/LZW", "/Crypt") for name in map(str, names)):
            yield f"a stream is packed by {names}"


def _output_intent(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    intents = [one for one in file.Root.get("/OutputIntents", []) if str(one.get("/S", "")) == "/GTS_PDFA1"]
    if not intents:
        yield "no output intent"
    for one in intents:
        profile = one.get("/DestOutputProfile")
        if profile is None:
            yield "an output intent without a colour profile"
            continue
        space = ImageCms.ImageCmsProfile(BytesIO(profile.read_bytes())).profile.xcolor_space.strip()
        if {"RGB": 3, "GRAY": 1, "CMYK": 4}.get(space) != int(profile.N):
            yield f"the profile is {space} and says {profile.N} components"


def _pictures(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    for one in _all(file, pikepdf.Stream):
        kind = str(one.get("/Subtype", ""))
        beside = {"/Alternates", "/OPI"} & set(one.stream_dict.keys())
        if kind == "/Image" and (beside or one.get("/Interpolate", False)):
            yield "a picture with alternates, a stand-in or interpolation"
        if kind == "/PS" or (kind == "/Form" and {"/OPI", "/PS", "/Ref"} & set(one.stream_dict.keys())):
            yield "a form that refers elsewhere"


def _transparency(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    for one in _all(file, pikepdf.Dictionary):
        if str(one.get("/Type", "")) == "/ExtGState" and {"/TR", "/HTP"} & set(one.keys()):
            yield "a transfer function"


def _fonts(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    fonts = [one for one in _all(file, pikepdf.Dictionary) if str(one.get("/Type", "")) == "/Font"]
    if not fonts:
        yield "no font at all"
    for one in fonts:
        kind = str(one.get("/Subtype", ""))
        if kind == "/Type3":
            continue
        below = one.get("/DescendantFonts", [None])[0] if kind == "/Type0" else one
        descriptor = below.get("/FontDescriptor", pikepdf.Dictionary())
        if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor.keys()):
            yield f"{one.get('/BaseFont')} is not embedded"


def _unicode(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    for one in _all(file, pikepdf.Dictionary):
        if str(one.get("/Subtype", "")) == "/Type0" and "/ToUnicode" not in one:
            yield f"{one.get('/BaseFont')} does not say which characters its glyphs are"


def _notes(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    for page in file.pages:
        for one in page.get("/Annots", []):
            kind, flags = str(one.get("/Subtype", "")), int(one.get("/F", 0))
            if kind in FORBIDDEN_NOTES:
                yield f"an annotation of kind {kind}"
            if kind != "/Popup" and (not flags & PRINT or flags & (HIDDEN | INVISIBLE | NO_VIEW | TOGGLE)):
                yield f"an annotation of kind {kind} that would not be printed"
            if kind not in ("/Popup", "/Link") and "/AP" not in one:
                yield f"an annotation of kind {kind} without an appearance"


def _forms(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    form = file.Root.get("/AcroForm", {})
    if "/XFA" in form or form.get("/NeedAppearances", False) or file.Root.get("/NeedsRendering", False):
        yield "a form that a program has to draw"


def _actions(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    if "/AA" in file.Root or any("/AA" in page for page in file.pages):
        yield "something would be done by itself"
    for one in _all(file, pikepdf.Dictionary):
        kind = str(one.get("/S", ""))
        if kind in FORBIDDEN_ACTIONS:
            yield f"an action {kind}"
        if kind == "/Named" and str(one.get("/N", "")) not in NAMED_ACTIONS:
            yield f"a named action {one.get('/N')}"


def _metadata(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    with file.open_metadata(update_docinfo=False, set_pikepdf_as_editor=False) as words:
        if (words.get("pdfaid:part"), words.get("pdfaid:conformance")) != ("2", "A"):
            yield "the metadata do not say part 2, conformance A"
        if not words.get("dc:title"):
            yield "the metadata have no title"


def _structure(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    if not file.Root.get("/MarkInfo", {}).get("/Marked", False):
        yield "not marked as tagged"
    if "/StructTreeRoot" not in file.Root:
        yield "no structure tree"
    if not str(file.Root.get("/Lang", "")):
        yield "no language"


def _elsewhere(file: pikepdf.Pdf, _: bytes) -> Iterator[str]:
    names = file.Root.get("/Names", {})
    if "/EmbeddedFiles" in names or "/JavaScript" in names:
        yield "files or scripts inside"
    if "/AlternatePresentations" in names or any("/PresSteps" in page for page in file.pages):
        yield "another way to show it"
    if "/Requirements" in file.Root:
        yield "it asks the reader for abilities"


def _all(file: pikepdf.Pdf, kind: type) -> Iterator[Any]:
    """Every object of that kind: those of their own, and dictionaries inside them."""
    waiting, seen = list(file.objects), set()
    while waiting:
        one = waiting.pop()
        if isinstance(one, pikepdf.Array):
            waiting += [each for each in one if _holds(each)]
        elif isinstance(one, pikepdf.Dictionary | pikepdf.Stream):
            if one.is_indirect:
                if one.objgen in seen:
                    continue
                seen.add(one.objgen)
            if isinstance(one, kind):
                yield one
            waiting += [each for _, each in one.items() if _holds(each) and not each.is_indirect]


def _holds(one: Any) -> bool:
    return isinstance(one, pikepdf.Array | pikepdf.Dictionary | pikepdf.Stream)


CHECKS: tuple[tuple[str, Callable[[pikepdf.Pdf, bytes], Iterator[str]]], ...] = (
    ("6.1.2 header", _header),
    ("6.1.3 trailer", _trailer),
    ("6.1.7 streams", _streams),
    ("6.2.3 output intent", _output_intent),
    ("6.2.5 graphics state", _transparency),
    ("6.2.8 pictures and forms", _pictures),
    ("6.2.11.4 fonts embedded", _fonts),
    ("6.2.11.7 characters known", _unicode),
    ("6.3 annotations", _notes),
    ("6.4 forms", _forms),
    ("6.5 actions", _actions),
    ("6.6 metadata", _metadata),
    ("6.7 structure", _structure),
    ("6.8 to 6.11 nothing beside", _elsewhere),
)
