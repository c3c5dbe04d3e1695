"""Mark what an eye sees on a photograph: each mark on a part is a reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.records.reading import Reading
from kilter.thermal.figures import number
from kilter.thermal.outlines import Corner, Outline, area

Mark = tuple[str | Corner, str]
"""A part, or a place on the photograph [pixels], and what is seen there: a word of the quantity 'look'."""


@dataclass(frozen=True)
class Marked:
    """
    A mark with the part it belongs to.

    Args:
        part: Reference.
        sign: Word of the quantity 'look'.
        place: On the photograph. [pixels]
        others: Parts whose outlines hold the place as well, or lie within the error of the placing.
    """

    part: str
    sign: str
    place: Corner
    others: tuple[str, ...] = ()


def mark_photograph(marks: Sequence[Mark], outlines: Mapping[str, Outline], error: float | None) -> tuple[Marked, ...]:
    """
    Finds the part of every mark.

    Args:
        marks: As somebody made them.
        outlines: On the photograph. [pixels]
        error: Standard error of where the outlines lie; None where nobody can tell. [pixels]

    Raises:
        BadInput: A word that is no sign, a part without an outline, or a place near no part.
    """
    return tuple(_marked(where, " ".join(sign.lower().split()), outlines, error) for where, sign in marks)


def look_readings(marked: Sequence[Marked], state: str, source: str, sha256: str) -> tuple[Reading, ...]:
    """
    The marks as readings of the quantity 'look'.

    A mark that may belong to another part as well is doubtful. Parts without a mark give no reading: nobody said that
    they look clean.
    """
    return tuple(
        Reading(
            one.part, "look", None, one.sign, state=state, instrument="eye", doubtful=bool(one.others),
            note=f"photograph {source} (SHA-256 {sha256}) at {one.place[0]:.0f},{one.place[1]:.0f}"
            + (f"; may be {' or '.join(one.others)}" if one.others else ""),
        )
        for one in marked
    )  # fmt: skip


def _marked(where: str | Corner, sign: str, outlines: Mapping[str, Outline], error: float | None) -> Marked:
    signs = quantity("look").categories
    if sign not in signs:
        raise BadInput("Cannot mark the photograph", f"the word '{sign}'", ", ".join(signs), "Use one of these words.")
    if isinstance(where, str):
        if where not in outlines:
            raise BadInput(
                "Cannot mark the photograph", f"the part '{where}', which has no outline",
                ", ".join(sorted(outlines)[:20]), "Mark a part with an outline, or a place by x,y.",
            )  # fmt: skip
        return Marked(where, sign, outlines[where].middle)
    slack = number("photo_slack") if error is None else max(2 * error, 1.0)
    away = {ref: _distance(where, outline) for ref, outline in outlines.items()}
    near = sorted((ref for ref in away if away[ref] <= slack), key=lambda ref: (away[ref], area(outlines[ref])))
    if not near:
        closest = min(away, key=lambda ref: away[ref])
        raise BadInput(
            "Cannot mark the photograph",
            f"the place {where[0]:g},{where[1]:g}, {away[closest]:.0f} pixels from {closest}",
            f"places on a part, give or take {slack:.0f} pixels", "Name the part instead, or give it an outline.",
        )  # fmt: skip
    return Marked(near[0], sign, where, tuple(near[1:]))


def _distance(place: Corner, outline: Outline) -> float:
    """Distance from an outline, 0 within. [pixels]"""
    starts = np.array(outline.corners)
    ends, at = np.roll(starts, -1, axis=0), np.array(place)
    sides = ends - starts
    crossed = (starts[:, 1] > at[1]) != (ends[:, 1] > at[1])
    rise = np.where(crossed, sides[:, 1], 1.0)
    right = at[0] < starts[:, 0] + (at[1] - starts[:, 1]) * sides[:, 0] / rise
    if int((crossed & right).sum()) % 2:
        return 0.0
    along = np.clip(((at - starts) * sides).sum(axis=1) / np.maximum((sides**2).sum(axis=1), 1e-12), 0, 1)
    return float(np.hypot(*(starts + along[:, None] * sides - at).T).min())
