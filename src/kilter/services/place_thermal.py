"""Where parts are on a temperature picture: by marks that a person set, or as another picture has them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.thermal.figures import number
from kilter.thermal.outlines import Corner, Outline, Outlines
from kilter.thermal.placing import Floats, Placing, mapped, place
from kilter.thermal.register import Registration

MARKED, CARRIED, OUTLINED, POSITION = "marked", "carried", "outline", "position"


@dataclass(frozen=True, slots=True)
class Mark:
    """
    A part that a person found on the picture.

    Args:
        ref: Of the part.
        x, y: Its middle. [pixels]
        surface: Key of data/thermal.toml surfaces; '' where nobody said.
    """

    ref: str
    x: float
    y: float
    surface: str = ""


@dataclass(frozen=True)
class Spot:
    """
    Where one part is read.

    Args:
        outline: On this picture. [pixels]
        how: MARKED by a person; CARRIED over from a picture on which a person marked it; OUTLINED, its outline moved
            here; POSITION, its middle moved here, its size unknown.
        error: Of where it lies. [pixels]
    """

    outline: Outline
    how: str
    error: float

    @property
    def trusted(self) -> bool:
        """Whether a person pointed at it, or its outline is known and was placed with something left over to tell."""
        return self.how in (MARKED, CARRIED) or (self.how == OUTLINED and self.error <= number("corner_error"))


@dataclass(frozen=True)
class PlacedPicture:
    """
    A picture with the parts on it.

    Args:
        spots: By part; only marked ones where the board as a whole could not be placed.
        placing: By marks; None without.
        registration: By structure onto another picture; None without.
        worst: The mark that fits least well; '' where none is left over to tell.
        doubts: Why the board as a whole was not placed; empty where it was.
    """

    spots: Mapping[str, Spot]
    placing: Placing | None = None
    registration: Registration | None = None
    worst: str = ""
    doubts: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether the board as a whole was placed."""
        return self.placing is not None or self.registration is not None


def place_by_marks(board: Board, drawn: Outlines | None, marks: Sequence[Mark]) -> PlacedPicture:
    """
    Places the board by marked parts.

    Args:
        board: With positions, where nothing is drawn.
        drawn: Outlines of its parts, in whatever unit; None for none.
        marks: One for each part at most.

    Returns:
        With fewer marks than place a board, or marks on one line, the marked parts alone, and why.
    """
    own = {one.ref: _about(one, drawn, number("corner_error")) for one in marks}
    known = [(where, one) for one in marks if (where := _where(board, drawn, one.ref)) is not None]
    least = int(number("placing_marks"))
    if len(known) < least:
        return PlacedPicture(own, doubts=(f"{len(known)} marked parts whose place on the board is known, of {least} "
                                          "that it takes",))  # fmt: skip
    try:
        placing = place(np.array([where for where, _ in known]), np.array([(one.x, one.y) for _, one in known]))
    except BadInput as refused:
        return PlacedPicture(own, doubts=(refused.found,))
    worst = known[int(np.argmax(placing.residuals))][1].ref if placing.error is not None else ""
    error = placing.error if placing.error is not None else 2 * number("corner_error")
    surfaces = {one.ref: one.surface for one in marks if one.surface}
    spots = _moved(board, drawn, placing.matrix, error, surfaces)
    for ref, spot in own.items():
        if ref not in spots or spots[ref].how == POSITION:
            spots[ref] = spot
    return PlacedPicture(spots, placing, worst=worst)


def place_by_picture(found: Registration, marks: Sequence[Mark], placed: PlacedPicture) -> PlacedPicture:
    """
    Places the board as it lies on another picture of the same type, by the structure of both.

    Args:
        found: From that picture to this one; with doubts it places nothing.
        marks: Parts that a person found on this one; they stay where they are.
        placed: The parts on that one.
    """
    own = {one.ref: _about(one, None, number("corner_error")) for one in marks}
    if not found.found:
        return PlacedPicture(own, doubts=found.doubts)
    surfaces = {one.ref: one.surface for one in marks if one.surface}
    spots = {}
    for ref, spot in placed.spots.items():
        moved = spot.outline.moved(found.matrix)
        outline = Outline(ref, moved.corners, surfaces.get(ref, moved.surface))
        how = CARRIED if spot.how == MARKED else spot.how
        spots[ref] = Spot(outline, how, float(np.hypot(spot.error, found.error)))
    return PlacedPicture({**spots, **own}, registration=found)


def _where(board: Board, drawn: Outlines | None, ref: str) -> Corner | None:
    if drawn is not None:
        return drawn.parts[ref].middle if ref in drawn.parts else None
    return board.parts[ref].position if ref in board.parts else None


def _moved(
    board: Board, drawn: Outlines | None, matrix: Floats, error: float, surfaces: Mapping[str, str]
) -> dict[str, Spot]:
    """Every part whose place is known, onto the picture."""
    if drawn is not None:
        moved = {ref: one.moved(matrix) for ref, one in drawn.parts.items()}
        return {ref: Spot(Outline(ref, one.corners, surfaces.get(ref, one.surface)), OUTLINED, error)
                for ref, one in moved.items()}  # fmt: skip
    spots = {}
    for ref, part in board.parts.items():
        if part.position is not None:
            x, y = mapped(matrix, part.position)
            spots[ref] = Spot(_square(ref, float(x), float(y), surfaces.get(ref, "unknown")), POSITION, error)
    return spots


def _about(mark: Mark, drawn: Outlines | None, error: float) -> Spot:
    told = drawn.parts[mark.ref].surface if drawn is not None and mark.ref in drawn.parts else "unknown"
    return Spot(_square(mark.ref, mark.x, mark.y, mark.surface or told), MARKED, error)


def _square(ref: str, x: float, y: float, surface: str) -> Outline:
    half = number("spot_side") / 2
    return Outline(ref, ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)),
                   surface)  # fmt: skip
