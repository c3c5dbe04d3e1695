"""Agreement: whether two structures agree once registered, and how far apart they still are, block by block."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.thermal.figures import number
from kilter.thermal.resample import warped

Floats = NDArray[np.float64]

RMS_OF_MEDIAN = float(1 / np.sqrt(np.log(2.0)))
"""Root mean square over median of a length whose two coordinates are normal (Rayleigh's distribution)."""


@dataclass(frozen=True)
class Agreement:
    """
    How well two pictures agree once one is placed on the other.

    Args:
        correlation: Of their structures over the overlap.
        overlap: Share of the good picture that the object's picture covers.
        agreeing: Share of the blocks looked at in which the structures clearly match.
        blocks: Blocks that agree.
        error: RMS shift that is left over those blocks, from its median, since a block with one straight edge slides
            along it; NaN without any. [pixels]
        spread: RMS distance of those blocks from their middle, along the narrower direction. [pixels]
    """

    correlation: float
    overlap: float
    agreeing: float
    blocks: int
    error: float
    spread: float


def agreement(good: Floats, found: Floats, matrix: Floats) -> Agreement:
    """
    Looks at the overlap as a whole and at each block of it by itself.

    Args:
        good: Structure of the known-good picture.
        found: Structure of the object's picture.
        matrix: From pixels of the good picture to pixels of the object's.
    """
    onto = warped(found, matrix, (good.shape[0], good.shape[1]))
    inside = np.isfinite(onto)
    if inside.mean() < 0.01:
        return Agreement(0.0, float(inside.mean()), 0.0, 0, float("nan"), 0.0)
    size = max(16, int(number("block_share") * good.shape[1]))
    looks = [_block(good, onto, inside, top, left, size) for top in range(0, good.shape[0] - size + 1, size // 2)
             for left in range(0, good.shape[1] - size + 1, size // 2)]  # fmt: skip
    told = np.array([one for one in looks if one is not None]).reshape(-1, 5)
    agree = told[told[:, 0] >= number("block_correlation")]
    error = float(RMS_OF_MEDIAN * np.median(np.hypot(agree[:, 1], agree[:, 2]))) if len(agree) else float("nan")
    share = len(agree) / len(told) if len(told) else 0.0
    return Agreement(
        _correlation(good[inside], onto[inside]), float(inside.mean()), share, len(agree), error, _spread(agree[:, 3:])
    )


def _spread(places: Floats) -> float:
    if len(places) < 3:
        return 0.0
    return float(np.linalg.svd(places - places.mean(axis=0), compute_uv=False)[1] / np.sqrt(len(places)))


def _block(good: Floats, onto: Floats, inside: NDArray[np.bool_], top: int, left: int, size: int) -> list[float] | None:
    """Best correlation, its shift x and y, and the block's middle; None where there is nothing to compare."""
    reach = int(number("block_reach"))
    rows, columns = slice(top + reach, top + size - reach), slice(left + reach, left + size - reach)
    if not inside[top : top + size, left : left + size].all():
        return None
    piece = good[rows, columns]
    if piece.std() < number("block_contrast"):
        return None
    score = _correlations(piece, onto[top : top + size, left : left + size])
    at_y, at_x = np.unravel_index(int(score.argmax()), score.shape)
    dy, dx = _top(score[:, at_x], int(at_y)) - reach, _top(score[at_y], int(at_x)) - reach
    return [float(score.max()), dx, dy, left + size / 2, top + size / 2]


def _correlations(piece: Floats, field: Floats) -> Floats:
    """Correlation of a piece with the field about it at every place where it fits."""
    windows = np.lib.stride_tricks.sliding_window_view(field, piece.shape)
    level = piece - piece.mean()
    cross = np.einsum("abij,ij->ab", windows, level)
    count = piece.size
    size = np.einsum("abij,abij->ab", windows, windows) - np.einsum("abij->ab", windows) ** 2 / count
    return np.asarray(cross / np.sqrt(np.maximum(size, 1e-12) * max(float((level**2).sum()), 1e-12)))


def _top(scores: Floats, at: int) -> float:
    """Place of the maximum of the parabola through the largest score and its neighbours."""
    if not 0 < at < len(scores) - 1:
        return float(at)
    before, here, after = scores[at - 1 : at + 2]
    bend = before - 2 * here + after
    return at + (0.5 * (before - after) / bend if bend < 0 else 0.0)


def _correlation(a: Floats, b: Floats) -> float:
    a, b = a - a.mean(), b - b.mean()
    below = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return float((a * b).sum() / below) if below > 0 else 0.0
