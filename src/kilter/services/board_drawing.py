"""A drawing of a board from the positions of its parts, and where the probe goes on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.thermal.placing import mapped, place

MARGIN_MM, SMALLEST_MM = 6.0, 40.0
HALF_WIDTH_MM, HALF_HEIGHT_MM = 3.2, 2.0
BIG = frozenset({"processor", "rom", "memory", "display", "keyboard", "counter", "logic"})
GROUND_IS_EVERYWHERE = 12
"""A net with more parts than this is no place that a drawing could show."""


@dataclass(frozen=True)
class Drawn:
    """
    One part.

    Args:
        ref: Its reference.
        x, y: Its middle, y downwards. [mm]
        half_width, half_height: Of the box drawn; positions are known, sizes are only a sketch. [mm]
        warmth: Probability that it is faulty, 0 where it is no suspect.
        probed: The probe goes to it.
    """

    ref: str
    x: float
    y: float
    half_width: float
    half_height: float
    warmth: float
    probed: bool


@dataclass(frozen=True)
class Behind:
    """
    A photograph behind the drawing.

    Args:
        address: Where a page finds it.
        width, height: [pixels]
        matrix: From its pixels to millimetres, as SVG writes it.
        error: How far a matched point lies off; None with just three, which always fit. [pixels]
    """

    address: str
    width: int
    height: int
    matrix: str
    error: float | None


@dataclass(frozen=True)
class Drawing:
    """
    The board.

    Args:
        left, top, width, height: What the drawing covers. [mm]
        parts: Those whose position is known.
        marker: Where the probe goes, None where the board does not say.
        places: In words where the probe may go: the pins on the net, or the part.
        missing: Parts without a position.
        photo: A photograph behind it; None for none.
    """

    left: float
    top: float
    width: float
    height: float
    parts: tuple[Drawn, ...]
    marker: tuple[float, float] | None
    places: tuple[str, ...]
    missing: int
    photo: Behind | None = None


def on_photograph(
    drawing: Drawing, board: Board, matches: Sequence[tuple[str, float, float]], width: int, height: int, address: str
) -> Drawing:
    """
    The drawing with a photograph behind it, placed by matched parts.

    Args:
        drawing: Of the board.
        board: With positions.
        matches: Part or point, and where it is on the photograph. [pixels]
        width, height: Of the photograph. [pixels]
        address: Where a page finds it.

    Returns:
        The same drawing where fewer than three matches name something with a position, or they lie on one line.
    """
    known = [(spot, (x, y)) for name, x, y in matches if (spot := _position(board, name)) is not None]
    try:
        placing = place([one for one, _ in known], [one for _, one in known], "affine")
    except BadInput:
        return drawing
    back = np.asarray(np.linalg.inv(placing.matrix), np.float64)
    corners = mapped(back, [(0, 0), (width, 0), (0, height), (width, height)])
    (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
    matrix = tuple(float(back[row, column]) for column in range(3) for row in range(2))
    behind = Behind(address, width, height, " ".join(f"{one:.6g}" for one in matrix), placing.error)
    return replace(drawing, left=float(left), top=float(top), width=float(right - left), height=float(bottom - top),
                   photo=behind)  # fmt: skip


def _position(board: Board, name: str) -> tuple[float, float] | None:
    if name in board.parts:
        return board.parts[name].position
    return board.points[name].position if name in board.points else None


def draw_board(board: Board, suspects: Mapping[str, float], point: str = "") -> Drawing | None:
    """
    The drawing; None where fewer than two parts have a position.

    Args:
        board: With positions.
        suspects: Part to probability.
        point: A point or part of the board; '' for none.
    """
    placed = {ref: part.position for ref, part in board.parts.items() if part.position is not None}
    if len(placed) < 2:
        return None
    marker, probed, places = where_to_probe(board, point)
    drawn = tuple(
        Drawn(ref, x, y, *_half_size(board.parts[ref].kind), suspects.get(ref, 0.0), ref in probed)
        for ref, (x, y) in placed.items()
    )
    spots = [*placed.values(), *([marker] if marker else [])]
    left, top = (min(spot[axis] for spot in spots) - MARGIN_MM for axis in (0, 1))
    right, bottom = (max(spot[axis] for spot in spots) + MARGIN_MM for axis in (0, 1))
    width, height = max(right - left, SMALLEST_MM), max(bottom - top, SMALLEST_MM)
    return Drawing(left, top, width, height, drawn, marker, places, len(board.parts) - len(placed))


def where_to_probe(board: Board, point: str) -> tuple[tuple[float, float] | None, frozenset[str], tuple[str, ...]]:
    """
    Where a point is: its own position, else the pins that share its net.

    Returns:
        The position, or None; the parts a probe would find it at; the same in words.
    """
    if point in board.parts:
        return board.parts[point].position, frozenset({point}), (point,)
    found = board.points.get(point)
    net = found.net if found is not None else point
    pins = tuple(_pins(board, net))
    if found is not None and found.position is not None:
        return found.position, frozenset(), pins
    ref, _, pin = point.partition(".")
    if ref in board.parts and pin:
        return board.parts[ref].position, frozenset({ref}), (point,)
    refs = frozenset(one.partition(".")[0] for one in pins)
    if len(refs) > GROUND_IS_EVERYWHERE:
        return None, frozenset(), pins[:GROUND_IS_EVERYWHERE]
    return None, refs, pins


def _pins(board: Board, net: str) -> Iterable[str]:
    for part in board.parts.values():
        for pin, joined in part.pins.items():
            if joined == net:
                yield f"{part.ref}.{pin}"


def _half_size(kind: str) -> tuple[float, float]:
    grown = 1.8 if kind in BIG else 1.0
    return HALF_WIDTH_MM * grown, HALF_HEIGHT_MM * grown
