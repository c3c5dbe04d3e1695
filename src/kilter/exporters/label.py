"""A label with the object number as a QR code and in letters: SVG, and PDF for a printer of labels."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from html import escape

from kilter.exporters.extras import extra
from kilter.exporters.harmless import one_line
from kilter.exporters.typesetting import typeset
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.records.dossier import ObjectFields

LONGEST = 60
"""Characters of an object number."""
LEVEL = "q"
"""Error correction: a quarter of the code may be lost (ISO/IEC 18004)."""
EDGE, LARGEST_MM, LETTER_WIDTH = 2.0, 5.0, 1.1
"""Beside the number, and its letters at most [mm]; width of the widest bold letter against its height."""
LINES, LETTERS = 3, 26
"""Lines of the name, and letters in each."""


def qr_path(number: str) -> tuple[str, int]:
    """
    The code of an object number, and of nothing else: no address that dies.

    Returns:
        Path data for an SVG whose unit is one module, and the width in modules with the quiet zone.

    Raises:
        BadInput: No number, or one that is too long or holds characters that no label shows.
        NotAvailable: The maker of codes is not installed.
    """
    doing = "Cannot make a label"
    if not number.strip() or number != one_line(number) or len(number) > LONGEST:
        raise BadInput(doing, f"the object number '{one_line(number)[:LONGEST]}' with {len(number)} characters",
                       f"1 to {LONGEST} characters on one line, without control characters",
                       "Correct the number of the object.")  # fmt: skip
    code = extra("segno", doing).make_qr(number, error=LEVEL, boost_error=False)
    quiet = int(table("handing_over")["label"]["quiet_modules"])
    drawn = io.BytesIO()
    code.save(drawn, kind="svg", border=quiet, xmldecl=False, svgns=False, nl=False, svgclass=None, lineclass=None)
    path = re.search(r' d="([^"]+)"', drawn.getvalue().decode("ascii"))
    assert path is not None
    return path[1], code.symbol_size(border=quiet)[0]


def label_svg(one: ObjectFields) -> str:
    """
    The label as a drawing in millimetres.

    Raises:
        BadInput: The number cannot be put on a label.
        NotAvailable: The maker of codes is not installed.
    """
    path, modules = qr_path(one.number)
    width, height = table("handing_over")["label"]["width_mm"], table("handing_over")["label"]["height_mm"]
    across = width - height - EDGE
    words = [f'<tspan x="{height:g}" dy="{3.6 if at else 5.5}">{escape(line)}</tspan>' for at, line in
             enumerate(_lines(one))]  # fmt: skip
    size = _letter_size(one, across)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(one.number)}">'
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>'
        f'<path transform="scale({height / modules:.6f})" stroke="#000" d="{path}"/>'
        f'<text font-family="sans-serif" font-weight="bold" font-size="{size:.2f}" x="{height:g}" y="8">'
        f"{escape(one.number)}</text>"
        f'<text font-family="sans-serif" font-size="3" x="{height:g}" y="9">{"".join(words)}</text></svg>\n'
    )


def labels_pdf(objects: Iterable[ObjectFields], made_at: str = "") -> bytes:
    """
    One label a page, of the label's size.

    Raises:
        BadInput: A number cannot be put on a label, or there is none.
        NotAvailable: The maker of codes or the typesetter is not installed.
    """
    sizes, told, codes = table("handing_over")["label"], [], {}
    for place, one in enumerate(objects, 1):
        path, modules = qr_path(one.number)
        file = f"code-{place}.svg"
        codes[file] = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {modules} {modules}">'
                       f'<path stroke="#000" d="{path}"/></svg>').encode("ascii")  # fmt: skip
        size = _letter_size(one, sizes["width_mm"] - sizes["height_mm"] - EDGE)
        told.append({"number": one.number, "size": size, "lines": _lines(one), "code": file})
    if not told:
        raise BadInput("Cannot make labels", "no object", "one object or more", "Choose an object.")
    data = {"title": f"Labels: {told[0]['number']}" + (" and more" if len(told) > 1 else ""),
            "width": sizes["width_mm"], "height": sizes["height_mm"], "labels": told}  # fmt: skip
    return typeset("label.typ", data, codes, made_at)


def _letter_size(one: ObjectFields, across: float) -> float:
    """Height of the letters of the number, so that it fits on one line. [mm]"""
    return min(LARGEST_MM, across / (LETTER_WIDTH * max(len(one.number), 1)))


def _lines(one: ObjectFields) -> list[str]:
    """The name in a few lines, then when it was made; what does not fit ends in an ellipsis."""
    lines: list[str] = []
    for word in one_line(one.name).split():
        if lines and len(lines[-1]) + 1 + len(word) <= LETTERS:
            lines[-1] += f" {word}"
        else:
            lines.append(word if len(word) <= LETTERS else f"{word[: LETTERS - 1]}…")
    if len(lines) > LINES:
        lines = [*lines[: LINES - 1], f"{lines[LINES - 1][: LETTERS - 1]}…"]
    made = one_line(one.made)
    return [*lines, *([made[:LETTERS]] if made else [])]
