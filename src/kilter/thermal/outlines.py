"""Outlines of parts on a picture or a board, and the pixels inside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.thermal.placing import mapped

Floats = NDArray[np.float64]
Corner = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Outline:
    """
    Where one part is seen.

    Args:
        ref: Reference of the part.
        corners: Three or more, around it. [pixels or mm, as its file says]
        surface: Key of data/thermal.toml surfaces.
    """

    ref: str
    corners: tuple[Corner, ...]
    surface: str = "unknown"

    @property
    def middle(self) -> Corner:
        """Middle of its corners."""
        x, y = np.mean(self.corners, axis=0)
        return float(x), float(y)

    def moved(self, matrix: Floats) -> Outline:
        """The outline under a map."""
        corners = mapped(matrix, np.array(self.corners))
        return Outline(self.ref, tuple((float(x), float(y)) for x, y in corners), self.surface)


@dataclass(frozen=True)
class Outlines:
    """
    The outlines of a board's parts.

    Args:
        parts: By reference.
        unit: 'px', on the known-good picture, or 'mm', on the board.
    """

    parts: Mapping[str, Outline]
    unit: str


def area(outline: Outline) -> float:
    """
    Area of an outline.

    >>> area(Outline("U1", ((0, 0), (4, 0), (4, 3), (0, 3))))
    12.0
    """
    x, y = np.array(outline.corners, np.float64).T
    return float(abs((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) / 2)


def narrowest(outline: Outline) -> float:
    """Least width of an outline over all directions of its sides."""
    corners = np.array(outline.corners)
    sides = np.roll(corners, -1, axis=0) - corners
    lengths = np.hypot(*sides.T)
    across = np.stack([-sides[:, 1], sides[:, 0]], axis=1)[lengths > 0] / lengths[lengths > 0, None]
    spans = corners @ across.T
    return float((spans.max(axis=0) - spans.min(axis=0)).min()) if len(across) else 0.0


def inside(outline: Outline, shape: tuple[int, int], margin: float = 0.0) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """
    Rows and columns of the pixels inside an outline, at least `margin` from its edge; those off the picture left out.
    """
    corners = np.array(outline.corners)
    low = np.maximum(np.floor(corners.min(axis=0)), 0).astype(int)
    high = np.minimum(np.ceil(corners.max(axis=0)), [shape[1] - 1, shape[0] - 1]).astype(int)
    if (high < low).any():
        return np.zeros(0, np.intp), np.zeros(0, np.intp)
    y, x = (one.ravel() for one in np.mgrid[low[1] : high[1] + 1, low[0] : high[0] + 1])
    within, near = np.zeros(len(x), np.bool_), np.full(len(x), np.inf)
    for (ax, ay), (bx, by) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        crosses = (ay > y) != (by > y)
        if ay != by:
            within ^= crosses & (x < ax + (y - ay) * (bx - ax) / (by - ay))
        long = (bx - ax) ** 2 + (by - ay) ** 2
        along = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / max(long, 1e-12), 0, 1)
        near = np.minimum(near, np.hypot(x - ax - along * (bx - ax), y - ay - along * (by - ay)))
    kept = within & (near >= margin)
    return y[kept], x[kept]
