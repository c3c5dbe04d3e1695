"""The report in print: PDF with embedded fonts and tags, the same sections as the page."""

from __future__ import annotations

import re
from typing import Any

from kilter.exporters.report_sections import Block, Facts, Grid, Items, Pictures, Words, sections, title
from kilter.exporters.typesetting import typeset
from kilter.records.dossier import Dossier

IN_LINES, IN_LISTS, IN_CELLS = 40, 70, 12
"""Letters of a word that fit into a line everywhere; a hash of 64 in a list stays whole, so that it can be copied."""
PADDING, WIDEST = 2.0, 30.0
"""Letters by which a column is wider than its longest cell, and letters of a cell that count at most."""


def report_pdf(dossier: Dossier) -> bytes:
    """
    The report.

    Raises:
        NotAvailable: The typesetter, or a reader of pictures that are wanted, is not installed.
        BadInput: The typesetter refuses.
    """
    pictures: dict[str, bytes] = {}
    told = [
        {"title": one.title, "blocks": [_block(block, pictures) for block in one.blocks]} for one in sections(dossier)
    ]
    head = title(dossier)
    data = {"title": head, "heading": _breakable(head, IN_LINES), "number": dossier.object.number or head,
            "house": dossier.house, "sections": told}  # fmt: skip
    return typeset("report.typ", data, pictures, dossier.made_at)


def _block(block: Block, pictures: dict[str, bytes]) -> dict[str, Any]:
    match block:
        case Words():
            return {"block": "words", "words": _breakable(block.words, IN_LISTS)}
        case Facts():
            return {"block": "facts", "rows": [[_breakable(one, IN_LINES) for one in row] for row in block.rows]}
        case Items():
            return {"block": "items", "items": [_breakable(one, IN_LISTS) for one in block.items],
                    "caution": block.caution}  # fmt: skip
        case Grid():
            rows = [[_breakable(one, IN_CELLS) for one in row] for row in block.rows]
            return {"block": "grid", "heads": list(block.heads), "rows": rows, "widths": _widths(block)}
        case Pictures():
            named = []
            for one in block.pictures:
                file = f"picture-{len(pictures) + 1}.jpg"
                pictures[file] = one.data
                named.append({"file": file, "caption": one.caption})
            return {"block": "pictures", "pictures": named}


def _widths(block: Grid) -> list[float]:
    """Shares by what the columns hold, so that a hash does not squeeze the words."""
    longest = [max(len(row[column]) for row in (block.heads, *block.rows)) for column in range(len(block.heads))]
    return [PADDING + min(one, WIDEST) for one in longest]


def _breakable(words: str, most: int) -> str:
    """Words of more letters than fit into a line may break, here and there."""
    return re.sub(rf"\S{{{most}}}(?=\S)", lambda found: found[0] + "\N{ZERO WIDTH SPACE}", words)
