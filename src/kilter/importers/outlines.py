"""Edges of a board as short straight lines: what arcs and circles become, and the corner that positions start from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import atan2, ceil, cos, hypot, pi, radians, sin

from kilter.circuit.layout import Layout, Place, Spot

STEP = radians(10)
"""Angle of one short line of an arc."""

Line = tuple[Spot, ...]


def arc_about(centre: Spot, start: Spot, angle: float) -> Line:
    """
    An arc from a start around a centre.

    Args:
        centre: Of the circle.
        start: Where the arc begins.
        angle: Turned from x towards y. [radians]
    """
    radius = hypot(start[0] - centre[0], start[1] - centre[1])
    first = atan2(start[1] - centre[1], start[0] - centre[0])
    steps = max(1, ceil(abs(angle) / STEP))
    turns = (first + angle * step / steps for step in range(steps + 1))
    return tuple((centre[0] + radius * cos(turn), centre[1] + radius * sin(turn)) for turn in turns)


def circle(centre: Spot, rim: Spot) -> Line:
    """A whole circle through a point of its rim."""
    return arc_about(centre, rim, 2 * pi)


def arc_through(start: Spot, middle: Spot, end: Spot) -> Line:
    """
    The arc through three points; a straight line where they are in line.

    >>> [(round(x, 6), round(y, 6)) for x, y in arc_through((1, 0), (0, 1), (-1, 0))[::9]]
    [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)]
    """
    (ax, ay), (bx, by), (cx, cy) = start, middle, end
    twice = 2 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
    if abs(twice) < 1e-9:
        return (start, end)
    a, b, c = ax * ax + ay * ay, bx * bx + by * by, cx * cx + cy * cy
    centre = ((a * (by - cy) + b * (cy - ay) + c * (ay - by)) / twice,
              (a * (cx - bx) + b * (ax - cx) + c * (bx - ax)) / twice)  # fmt: skip
    first, last = (atan2(y - centre[1], x - centre[0]) for x, y in (start, end))
    angle = (last - first) % (2 * pi) if twice > 0 else -((first - last) % (2 * pi))
    return arc_about(centre, start, angle)


def placed(outline: Sequence[Line], places: dict[str, Place], *, upwards: bool = False) -> Layout | None:
    """
    A layout whose positions start from the top left corner.

    Args:
        outline: Lines in the file's coordinates. [mm]
        places: In the file's coordinates.
        upwards: The file's y goes upwards.

    Returns:
        None where neither an outline nor a place is known.
    """
    lines = [line for line in outline if line]
    spots = [spot for line in lines for spot in line] or [*_all_spots(places.values())]
    if not spots:
        return None
    left, right = min(x for x, _ in spots), max(x for x, _ in spots)
    low, high = min(y for _, y in spots), max(y for _, y in spots)

    def moved(spot: Spot) -> Spot:
        return (round(spot[0] - left, 4), round(high - spot[1] if upwards else spot[1] - low, 4))

    return Layout(
        tuple(tuple(moved(spot) for spot in line) for line in lines),
        {ref: Place(moved(place.position), place.rotation, place.bottom,
                    {pad: moved(spot) for pad, spot in place.pads.items()}) for ref, place in places.items()},
        (round(right - left, 4), round(high - low, 4)),
    )  # fmt: skip


def middle_of(spots: Iterable[Spot], otherwise: Spot) -> Spot:
    """The middle of the smallest upright box around some spots."""
    xs, ys = zip(*spots, strict=True) if (spots := list(spots)) else ((otherwise[0],), (otherwise[1],))
    return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)


def _all_spots(places: Iterable[Place]) -> Iterable[Spot]:
    for place in places:
        yield place.position
        yield from place.pads.values()
