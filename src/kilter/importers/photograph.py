"""Photographs: size and orientation, original bytes untouched; copies carry no place, camera or owner."""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kilter.importers.binary_files import read_bytes
from kilter.measure.errors import BadInput, NotAvailable
from kilter.thermal.figures import number

if TYPE_CHECKING:
    from PIL.Image import Image

FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")
PLACE, ORIENTATION = 0x8825, 0x0112
"""Tags of the EXIF directory: the location block and the orientation (Exif 2.3, from memory)."""


@dataclass(frozen=True)
class Photograph:
    """
    One photograph.

    Args:
        source: Name of the file.
        raw: Its bytes as they are; they are what is kept.
        sha256: Of these bytes, in hexadecimal.
        width: As seen, once the orientation is heeded. [pixels]
        height: As seen. [pixels]
        format: Such as 'JPEG'.
        has_place: Whether the file says where it was taken.
    """

    source: str
    raw: bytes = field(repr=False)
    sha256: str
    width: int
    height: int
    format: str
    has_place: bool


def read_photograph(path: Path) -> Photograph:
    """
    A photograph; its pixels are not kept, only its bytes.

    Raises:
        NotAvailable: The picture library is not installed.
        BadInput: Not such a file, damaged, or larger than is taken.
    """
    doing = f"Cannot read the photograph {path.name}"
    require_pictures(doing)
    raw = read_bytes(path, doing, int(number("most_photo_bytes")))
    image = _opened(raw, doing)
    width, height = image.size
    kind, exif = str(image.format), image.getexif()
    turned = int(exif.get(ORIENTATION, 1)) in (5, 6, 7, 8)
    _load(image, doing)
    return Photograph(
        path.name, raw, hashlib.sha256(raw).hexdigest(), height if turned else width, width if turned else height,
        kind, PLACE in exif,
    )  # fmt: skip


def plain_copy(photo: Photograph) -> bytes:
    """A PNG as it is seen, with nothing beside its pixels: no place, no camera, no time, no owner."""
    doing = f"Cannot copy the photograph {photo.source}"
    image = _upright(photo, doing)
    copy = image.convert("RGB")
    copy.info.clear()
    file = io.BytesIO()
    copy.save(file, format="PNG")
    return file.getvalue()


def pixels(photo: Photograph) -> Any:
    """The photograph as it is seen, shape (height, width, 3), 8 bits."""
    import numpy as np

    return np.asarray(_upright(photo, f"Cannot show the photograph {photo.source}").convert("RGB"))


def require_pictures(doing: str) -> None:
    """
    Makes sure that photographs can be read.

    Raises:
        NotAvailable: The picture library is not installed.
    """
    try:
        import PIL.Image  # noqa: F401
    except ImportError:
        raise NotAvailable(doing, "no picture library (Pillow)", "everything else without it",
                           "Install the extra 'vision': pip install 'kilter[vision]'.") from None  # fmt: skip


def _opened(raw: bytes, doing: str) -> Image:
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = Image.open(io.BytesIO(raw), formats=FORMATS)
    except (OSError, ValueError, SyntaxError, TypeError, Image.DecompressionBombError):
        raise _bad(doing, "bytes that are none of these pictures, or a damaged one") from None
    if image.width * image.height > number("most_photo_pixels"):
        raise _bad(doing, f"{image.width} by {image.height} pixels")
    return image


def _load(image: Image, doing: str) -> None:
    """Decodes it, so that a picture cut off is found now."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image.load()
    except Exception as error:  # noqa: BLE001 -- the decoders raise many kinds on damaged bytes
        raise _bad(doing, f"a damaged or cut-off picture ({type(error).__name__})") from None


def _upright(photo: Photograph, doing: str) -> Image:
    from PIL import ImageOps

    image = _opened(photo.raw, doing)
    _load(image, doing)
    return ImageOps.exif_transpose(image)


def _bad(doing: str, found: str) -> BadInput:
    most = number("most_photo_pixels") / 1e6
    return BadInput(doing, found, f"{', '.join(FORMATS)} of up to {most:g} million pixels",
                    "Copy the picture from the camera again, or save it in one of these formats.")  # fmt: skip
