"""A drawing of a board from the positions of its parts, and where the probe goes on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kilter.circuit.board import Board

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
class Drawing:
    """
    The board.

    Args:
        left, top, width, height: What the drawing covers. [mm]
        parts: Those whose position is known.
        marker: Where the probe goes, None where the board does not say.
        places: In words where the probe may go: the pins on the net, or the part.
        missing: Parts without a position.
    """

    left: float
    top: float
    width: float
    height: float
    parts: tuple[Drawn, ...]
    marker: tuple[float, float] | None
    places: tuple[str, ...]
    missing: int


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
