"""Photographs of a dossier as small pictures for a page: upright, and without what a camera writes about its place."""

from __future__ import annotations

import io
from dataclasses import dataclass

from kilter.exporters.attachment_files import checked_file
from kilter.exporters.extras import extra
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.records.dossier import Attachment

PICTURES = ("photograph", "photograph before", "photograph after", "thermal picture")
"""Kinds of attachment that are looked at; the rest is listed."""
READ_AS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")


@dataclass(frozen=True)
class Picture:
    """
    A picture to show.

    Args:
        caption: Under it; never empty.
        data: JPEG.
        width: [pixel]
        height: [pixel]
        kind: Of the attachment.
    """

    caption: str
    data: bytes
    width: int
    height: int
    kind: str


def is_picture(one: Attachment) -> bool:
    """Whether it is to be looked at."""
    return one.kind in PICTURES


def picture(one: Attachment) -> Picture | str:
    """
    The picture, or in words why it cannot be shown.

    Raises:
        NotAvailable: There is no reader of pictures on this machine.
    """
    try:
        path = checked_file(one)
    except BadInput as error:
        return error.found
    images, operations = (extra(f"PIL.{name}", f"Cannot show '{one.name}'") for name in ("Image", "ImageOps"))
    limits = table("handing_over")["pictures"]
    try:
        with images.open(path, formats=READ_AS) as opened:
            if opened.width * opened.height > limits["most_pixels"]:
                return f"{opened.width} × {opened.height} pixels, more than are opened"
            upright = operations.exif_transpose(opened).convert("RGB")
        upright.thumbnail((limits["longest_px"], limits["longest_px"]))
        small = io.BytesIO()
        upright.save(small, "JPEG", quality=limits["quality"])
    except (OSError, ValueError, SyntaxError, images.DecompressionBombError, images.DecompressionBombWarning):
        return "a file that is no picture in a form that can be read, or is too large to be opened"
    words = one.caption.strip() or one.name
    return Picture(f"{one.kind}: {words}", small.getvalue(), upright.width, upright.height, one.kind)
