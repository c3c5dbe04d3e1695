"""Place the outlines of a board's parts on a picture by matched points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.measure.errors import BadInput
from kilter.thermal.outlines import Corner, Outline, Outlines
from kilter.thermal.placing import Placing, place

Match = tuple[str | Corner, Corner]
"""A part, whose middle is meant, or a place in the outlines' own unit; and where it is in the picture. [pixels]"""


@dataclass(frozen=True)
class Placed:
    """
    Outlines on a picture.

    Args:
        parts: By reference. [pixels]
        placing: How they came there; None where they were drawn on this picture.
        worst: Name of the match that fits least well, '' where none is left over to tell.
    """

    parts: Mapping[str, Outline]
    placing: Placing | None
    worst: str = ""


def place_outlines(outlines: Outlines, matches: Sequence[Match], kind: str = "") -> Placed:
    """
    The outlines on a picture.

    Args:
        outlines: Drawn on a known-good picture or in millimetres of the board.
        matches: Three or more; none where the outlines were drawn on this very picture.
        kind: 'similarity', 'affine' or 'homography'; '' for what the number of points bears.

    Raises:
        BadInput: Too few matches, matches on one line, a part without an outline, or millimetres without matches.
    """
    if not matches:
        if outlines.unit == "mm":
            raise BadInput(
                "Cannot place the outlines on the picture",
                "outlines in millimetres and no matched point",
                "three matched points or more",
                "Match points, as U5=212,140 or 10.5,20=212,140.",
            )
        return Placed(outlines.parts, None)
    source = [_source(outlines, where) for where, _ in matches]
    placing = place(np.array(source), np.array([target for _, target in matches]), kind)
    worst = _name(matches[int(np.argmax(placing.residuals))][0]) if placing.free > 0 else ""
    return Placed({ref: one.moved(placing.matrix) for ref, one in outlines.parts.items()}, placing, worst)


def _source(outlines: Outlines, where: str | Corner) -> Corner:
    if not isinstance(where, str):
        return where
    if where not in outlines.parts:
        raise BadInput(
            "Cannot place the outlines on the picture",
            f"a match for '{where}', which has no outline",
            ", ".join(sorted(outlines.parts)[:20]),
            "Match a part with an outline, or a place by x,y.",
        )
    return outlines.parts[where].middle


def _name(where: str | Corner) -> str:
    return where if isinstance(where, str) else f"{where[0]:g},{where[1]:g}"
