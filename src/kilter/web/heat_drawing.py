"""The drawing of a temperature picture: its parts over it, and a scale that shows how far the camera may be wrong."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from kilter.exporters.heat_picture import STOPS, share_of
from kilter.measure.instruments import instrument
from kilter.services.read_thermal import INSTRUMENT
from kilter.thermal.image import TemperatureImage
from kilter.web.round_numbers import round_numbers
from kilter.web.thermal_look import Look

NAMED = 24
"""Up to so many parts all carry their names; of more, those that matter."""

TICKS = 5
QUANTILES = (0.002, 0.999)
"""Of the pixels, where the scale ends: a dead or mirroring pixel must not take the whole of it."""


@dataclass(frozen=True)
class DrawnPart:
    """
    A part over the picture.

    Args:
        ref: Its reference.
        points: Of its outline, as SVG writes them.
        x, y: Of its name.
        style: 'plain', 'marked' by a person, or 'off': unlike what was expected.
        named: It carries its name.
    """

    ref: str
    points: str
    x: float
    y: float
    style: str
    named: bool


@dataclass(frozen=True)
class HeatDrawing:
    """
    The drawing, in pixels of the picture.

    Args:
        width, height: Of the picture.
        whole: Width with the scale.
        em: Size of its letters.
        parts: Over it.
        stops: Share and colour of the scale.
        ticks: Height and words.
        bar: Top and height of the mark that shows the camera's uncertainty on the scale.
        uncertainty: The same in words, for two standard deviations.
        low, high: Ends of the scale. [degC]
    """

    width: int
    height: int
    whole: float
    em: float
    parts: tuple[DrawnPart, ...]
    stops: tuple[tuple[str, str], ...]
    ticks: tuple[tuple[float, str], ...]
    bar: tuple[float, float]
    uncertainty: str
    low: float
    high: float

    @property
    def scale_x(self) -> float:
        """Where the scale begins; it is one em wide."""
        return self.width + self.em

    @property
    def bar_x(self) -> float:
        """Where the mark of the uncertainty begins."""
        return self.width + 2.2 * self.em

    @property
    def bar_width(self) -> float:
        """How wide that mark is."""
        return 0.5 * self.em

    @property
    def tick_x(self) -> float:
        """Where the numbers begin."""
        return self.width + 3.0 * self.em


def ends_of(image: TemperatureImage) -> tuple[float, float]:
    """Ends of the scale. [degC]"""
    low, high = (float(one) for one in np.quantile(image.celsius, QUANTILES))
    return low, max(high, low + 1.0)


def draw_heat(look: Look, off: Collection[str]) -> HeatDrawing:
    """
    The drawing.

    Args:
        look: The picture with its parts.
        off: Parts that are unlike what was expected.
    """
    height, width = look.image.celsius.shape
    low, high = ends_of(look.image)
    em = height / 26
    marked = {one.ref for one in look.said.marks}
    wanted = look.parts if len(look.parts) <= NAMED else {*marked, *off}
    parts = tuple(_part(ref, one.spot.outline.corners, em, ref in off, ref in marked, ref in wanted)
                  for ref, one in look.parts.items())  # fmt: skip
    middle = (low + high) / 2
    wide = 2 * instrument(INSTRUMENT).standard_uncertainty("temperature", middle)
    ticks = round_numbers(low, high, TICKS)
    heights = (1.0 - share_of(np.array([middle + wide, middle - wide, *ticks]), low, high)) * height
    return HeatDrawing(
        width, height, width + 5.4 * em, em, parts,
        tuple((f"{share:g}", colour) for share, colour in STOPS),
        tuple((float(at), f"{one:g}") for at, one in zip(heights[2:], ticks, strict=True)),
        (float(heights[0]), float(heights[1] - heights[0])), f"{wide:.1f} K", low, high,
    )  # fmt: skip


def _part(
    ref: str, corners: Collection[tuple[float, float]], em: float, off: bool, marked: bool, named: bool
) -> DrawnPart:
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
    left, top = min(x for x, _ in corners), min(y for _, y in corners)
    style = "off" if off else "marked" if marked else "plain"
    return DrawnPart(ref, points, left, max(top - 0.3 * em, em), style, named)

