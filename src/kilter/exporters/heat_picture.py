"""
A temperature picture as PNG: one scale of colours whose lightness alone orders the temperatures.

From dark teal over sand to near white, so that it reads the same in grey print, by lamp light and without seeing red or
green apart. PNG as ISO/IEC 15948 has it, with a palette.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STOPS = ((0.0, "#0d1f24"), (0.3, "#0f5460"), (0.55, "#7d8468"), (0.78, "#e0a24e"), (1.0, "#fff6e0"))
"""Share of the scale and colour; between them the colours of the screen are mixed in equal steps."""

SHADES = 254
BLACK, WHITE = 254, 255
"""Places in the palette behind the shades."""

ARM = 7
"""Half length of the cross at a mark. [pixels of the drawn picture]"""


def heat_png(
    values: Floats, low: float, high: float, zoom: int = 1, crosses: Sequence[tuple[float, float]] = ()
) -> bytes:
    """
    The picture.

    Args:
        values: Temperatures, shape (h, w).
        low, high: Ends of the scale; what lies beyond has the colour of the end. [unit of the values]
        zoom: Drawn pixels a pixel, each way.
        crosses: Where marks are, x and y in pixels of the picture.
    """
    shades = np.rint(share_of(values, low, high) * (SHADES - 1)).astype(np.uint8)
    shades = shades.repeat(zoom, axis=0).repeat(zoom, axis=1)
    for x, y in crosses:
        _cross(shades, round((x + 0.5) * zoom), round((y + 0.5) * zoom))
    return _png(shades)


def share_of(values: Floats, low: float, high: float) -> Floats:
    """
    Place of temperatures on the scale, 0 to 1: the root of their share, so that small rises are told apart beside a
    hot part.

    >>> share_of(np.array([20.0, 30.0, 60.0, 99.0]), 20.0, 60.0).tolist()
    [0.0, 0.5, 1.0, 1.0]
    """
    return np.asarray(np.sqrt(np.clip((values - low) / max(high - low, 1e-9), 0.0, 1.0)))


def palette() -> NDArray[np.uint8]:
    """Red, green and blue of every place of the palette, shape (256, 3)."""
    at = [share for share, _ in STOPS]
    ends = np.array([[int(colour[k : k + 2], 16) for k in (1, 3, 5)] for _, colour in STOPS], np.float64)
    share = np.linspace(0.0, 1.0, SHADES)
    mixed = np.stack([np.interp(share, at, ends[:, k]) for k in range(3)], axis=1)
    return np.vstack([np.rint(mixed), [[0, 0, 0], [255, 255, 255]]]).astype(np.uint8)


def _cross(shades: NDArray[np.uint8], x: int, y: int) -> None:
    """White with a black rim, so that it is seen on every shade."""
    for colour, wide in ((BLACK, 1), (WHITE, 0)):
        shades[max(y - wide, 0) : y + wide + 1, max(x - ARM - wide, 0) : x + ARM + wide + 1] = colour
        shades[max(y - ARM - wide, 0) : y + ARM + wide + 1, max(x - wide, 0) : x + wide + 1] = colour


def _png(shades: NDArray[np.uint8]) -> bytes:
    height, width = shades.shape
    rows = np.hstack([np.zeros((height, 1), np.uint8), shades])
    head = struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)
    parts = {b"IHDR": head, b"PLTE": palette().tobytes(), b"IDAT": zlib.compress(rows.tobytes(), 6), b"IEND": b""}
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, content) for kind, content in parts.items())


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
