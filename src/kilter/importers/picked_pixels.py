"""Pixels that a person picked in a photograph, each with its neighbours."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

from kilter.importers.photograph import read_photograph
from kilter.measure.errors import BadInput, OutOfRange

Pixel = tuple[int, int, int]


def pixel_named(word: str) -> tuple[int, int]:
    """
    Column and row of 'X,Y'.

    Raises:
        BadInput: It is not two whole numbers.
    """
    pieces = word.split(",")
    if len(pieces) != 2 or not all(piece.strip().isdecimal() for piece in pieces):
        raise BadInput("Cannot pick a pixel", f"'{word[:40]}'", "column and row from the top left, as 120,48",
                       "Read them off in any picture viewer.")  # fmt: skip
    return int(pieces[0]), int(pieces[1])


def picked_pixels(path: Path, places: Sequence[tuple[int, int]], reach: int) -> list[list[Pixel]]:
    """
    The pixels about each place, as seen with the photograph upright.

    Args:
        path: JPEG, PNG, TIFF or WebP.
        places: Column and row.
        reach: Neighbours to each side.

    Raises:
        NotAvailable: The picture library is not installed.
        BadInput: No such picture, or a place outside it.
    """
    photo = read_photograph(path)
    from PIL import Image, ImageOps

    with Image.open(io.BytesIO(photo.raw)) as image:
        upright = ImageOps.exif_transpose(image).convert("RGB")
    for column, row in places:
        if not (0 <= column < upright.width and 0 <= row < upright.height):
            raise OutOfRange(f"Cannot pick a pixel in {path.name}", f"{column},{row}",
                             f"0,0 to {upright.width - 1},{upright.height - 1}", "Pick it again.")  # fmt: skip
    return [_patch(upright, column, row, reach) for column, row in places]


def _patch(image: object, column: int, row: int, reach: int) -> list[Pixel]:
    width, height = image.size  # type: ignore[attr-defined]
    columns = range(max(0, column - reach), min(width, column + reach + 1))
    rows = range(max(0, row - reach), min(height, row + reach + 1))
    return [image.getpixel((x, y)) for y in rows for x in columns]  # type: ignore[attr-defined]
