"""
Where things are on a board: its outline, and the place, side and pads of each part.

Positions are in millimetres from the top left corner of the outline, x to the right, y downwards, seen on the top side.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Spot = tuple[float, float]
"""x and y. [mm]"""


@dataclass(frozen=True, slots=True)
class Place:
    """
    Where one part sits.

    Args:
        position: Its anchor, mostly pad 1 or the middle of the body. [mm]
        rotation: Anticlockwise, seen on the top side. [degrees]
        bottom: Mounted on the bottom side.
        pads: Pad number to its middle; a number that occurs several times has the last one. [mm]
    """

    position: Spot
    rotation: float = 0.0
    bottom: bool = False
    pads: Mapping[str, Spot] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Layout:
    """
    The picture of a board without its copper.

    Args:
        outline: Lines of the board's edge; arcs and circles are broken into short lines. [mm]
        places: By part reference.
        size: Width and height of the outline, or of what is on it where no outline is drawn. [mm]
    """

    outline: tuple[tuple[Spot, ...], ...]
    places: Mapping[str, Place]
    size: Spot
