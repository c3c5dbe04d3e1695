"""Colours of bands from pixels: chance of each band colour in a space where distance is what an eye would see."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp
from typing import Any

from kilter.measure.tables import table
from kilter.parts.markings.bands import Band

Rgb = tuple[float, float, float]
"""Red, green, blue from 0 to 255, coded as in sRGB."""
D65 = (0.95047, 1.0, 1.08883)
"""White point of sRGB (IEC 61966-2-1), Y = 1."""
TO_XYZ = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
"""Linear sRGB to CIE XYZ (IEC 61966-2-1)."""


@dataclass(frozen=True)
class SeenBand:
    """
    What the picture says of one band.

    Args:
        rgb: Middle value of the pixels, as in the picture.
        band: Chance of each colour, given that it is one of the band colours.
        none: Chance that it is none of them: glare, the body, a wrong pixel.
    """

    rgb: Rgb
    band: Band
    none: float

    @property
    def best(self) -> str:
        """The likeliest colour."""
        return max(self.band, key=lambda name: self.band[name])


def lab(rgb: Rgb, white: Rgb | None = None) -> tuple[float, float, float]:
    """
    CIELAB of an sRGB pixel.

    Args:
        rgb: The pixel.
        white: A pixel of white paper in the same picture; evens out lamp and exposure. None takes it as it is.

    Source: IEC 61966-2-1 for sRGB, ISO/CIE 11664-4 for CIELAB.

    >>> [round(one, 1) for one in lab((255, 255, 255))], [round(one, 1) for one in lab((255, 0, 0))]
    ([100.0, 0.0, -0.0], [53.2, 80.1, 67.2])
    """
    linear = [_linear(one) for one in rgb]
    if white is not None:
        reflects = float(_data("white_point")["reflects"])
        linear = [one / max(_linear(against), 1e-4) * reflects for one, against in zip(linear, white, strict=True)]
    x, y, z = (
        sum(factor * one for factor, one in zip(row, linear, strict=True)) / against
        for row, against in zip(TO_XYZ, D65, strict=True)
    )
    return 116 * _cube(y) - 16, 500 * (_cube(x) - _cube(y)), 200 * (_cube(y) - _cube(z))


def _linear(code: float) -> float:
    share = code / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def _cube(share: float) -> float:
    edge = 6 / 29
    return share ** (1 / 3) if share > edge**3 else share / (3 * edge**2) + 4 / 29


def see_band(rgb: Rgb, white: Rgb | None = None) -> SeenBand:
    """
    Chance of each band colour for one pixel: normal distributions about the prototypes, all as likely beforehand.

    >>> see_band((186, 22, 70)).best
    'red'
    """
    seen, spread = lab(rgb, white), _data("spread")
    widths = (spread["lightness"], spread["chroma"], spread["chroma"])
    peaks = {
        name: exp(-0.5 * sum(((one - at) / wide) ** 2 for one, at, wide in zip(seen, place, widths, strict=True)))
        for name, place in _data("prototypes").items()
        if isinstance(place, list)
    }
    total, other = sum(peaks.values()), float(_data("none")["density"])
    if total == 0:
        return SeenBand(rgb, dict.fromkeys(peaks, 1 / len(peaks)), 1.0)
    return SeenBand(rgb, {name: one / total for name, one in peaks.items()}, other / (total + other))


def middle(pixels: Sequence[Rgb]) -> Rgb:
    """The middle value of each channel over a patch, which a speck of glare does not move."""
    columns = [sorted(channel) for channel in zip(*pixels, strict=True)]
    red, green, blue = (column[len(column) // 2] for column in columns)
    return red, green, blue


def patch_reach() -> int:
    """Pixels to each side of a picked one that are taken with it."""
    return int(_data("patch")["reach"])


def _data(section: str) -> dict[str, Any]:
    found: dict[str, Any] = table("markings/colour_prototypes")[section]
    return found
