"""Places that readings may name besides the board's points: across the two pins of a part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from kilter.circuit.board import Board, Point


def point_across(board: Board, ref: str) -> Point | None:
    """
    The place across a part: red lead on its first pin, black on its second; None for a part without just two pins.

    >>> from kilter.records.part import Part
    >>> board = Board("b", parts={"R7": Part("R7", "resistor", {"1": "in", "2": "out"})})
    >>> across = point_across(board, "R7")
    >>> across.net, across.against, across.reachable
    ('in', 'out', False)
    """
    part = board.parts.get(ref)
    if part is None or len(part.pins) != 2:
        return None
    red, black = part.pins.values()
    return Point(ref, red, black, label=f"across {ref}", reachable=False) if red != black else None


def with_points_across(board: Board, places: Iterable[str]) -> Board:
    """The board with a point across each two-pin part that is named and has none; such points are never asked for."""
    found = (point_across(board, place) for place in places if place not in board.points)
    added = {point.name: point for point in found if point is not None}
    return replace(board, points={**board.points, **added}) if added else board
