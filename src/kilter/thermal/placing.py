"""Place one picture on another: maps between planes, from matched points by least squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput

Floats = NDArray[np.float64]

KINDS = {"similarity": 2, "affine": 3, "homography": 4}
"""Kind of map to the matched points that it needs at least."""

FLAT = 1e-3
"""Points are taken to lie on one line where their spread across it is below this share of that along it."""


@dataclass(frozen=True)
class Placing:
    """
    A map from one plane to another with how well its points fit.

    Args:
        matrix: Homogeneous, shape (3, 3).
        kind: 'similarity', 'affine' or 'homography'.
        residuals: Distance of each matched point from where the map puts it. [target units]
    """

    matrix: Floats
    kind: str
    residuals: tuple[float, ...]

    @property
    def free(self) -> int:
        """Observations beyond those that the map needs; with none the residuals say nothing."""
        return 2 * (len(self.residuals) - KINDS[self.kind])

    @property
    def error(self) -> float | None:
        """Standard error of one matched point; None where no point is left over to tell. [target units]"""
        return float(np.sqrt(sum(r * r for r in self.residuals) / self.free)) if self.free > 0 else None

    def __call__(self, points: ArrayLike) -> Floats:
        """Points in the other plane, shape (..., 2)."""
        return mapped(self.matrix, points)


def mapped(matrix: Floats, points: ArrayLike) -> Floats:
    """
    Points under a homogeneous map, shape (..., 2).

    >>> mapped(np.array([[2.0, 0, 1], [0, 2, 0], [0, 0, 1]]), [3.0, 4.0]).tolist()
    [7.0, 8.0]
    """
    points = np.asarray(points, np.float64)
    whole = points @ matrix[:2, :2].T + matrix[:2, 2]
    return np.asarray(whole / (points @ matrix[2, :2] + matrix[2, 2])[..., None])


def place(source: ArrayLike, target: ArrayLike, kind: str = "") -> Placing:
    """
    The map that takes the source points to the target points with the least squared distance.

    Args:
        source: Shape (n, 2).
        target: Shape (n, 2).
        kind: See `KINDS`; '' takes an affine map, and a homography from five points on, where one can be checked.

    Raises:
        BadInput: Too few points, points on one line, or points that no such map joins.

    Source: homography by the normalised direct linear transformation with Gauss-Newton steps on the distances after it.
    """
    a, b = np.asarray(source, np.float64), np.asarray(target, np.float64)
    kind = kind or ("homography" if len(a) > KINDS["homography"] else "affine")
    _check(a, b, kind)
    to_a, to_b = _levelled(a), _levelled(b)
    na, nb = mapped(to_a, a), mapped(to_b, b)
    inner = {"similarity": _similarity, "affine": _affine, "homography": _homography}[kind](na, nb)
    matrix = np.linalg.inv(to_b) @ inner @ to_a
    if not np.isfinite(matrix).all() or abs(matrix[2, 2]) < 1e-12 or abs(np.linalg.det(inner)) < 1e-9:
        raise _bad("matched points that no sound map joins", "points in the same order on both sides")
    matrix = matrix / matrix[2, 2]
    misses = np.hypot(*(mapped(matrix, a) - b).T)
    return Placing(matrix, kind, tuple(map(float, misses)))


def similarity(scale: float, degrees: float, shift: ArrayLike, centre: ArrayLike) -> Floats:
    """Scaling and turning about a centre, then a shift; shape (3, 3)."""
    angle, middle = np.deg2rad(degrees), np.asarray(centre, np.float64)
    turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    matrix = np.eye(3)
    matrix[:2, :2] = turn
    matrix[:2, 2] = middle + np.asarray(shift, np.float64) - turn @ middle
    return matrix


def _levelled(points: Floats) -> Floats:
    """Moves the middle of the points to the origin and their mean distance to root two, against rounding."""
    middle = points.mean(axis=0)
    size = np.hypot(*(points - middle).T).mean() / np.sqrt(2.0)
    return np.array([[1 / size, 0, -middle[0] / size], [0, 1 / size, -middle[1] / size], [0, 0, 1.0]])


def _similarity(a: Floats, b: Floats) -> Floats:
    rows = np.concatenate([_rows(a[:, 0], -a[:, 1], 1, 0), _rows(a[:, 1], a[:, 0], 0, 1)])
    p = np.linalg.lstsq(rows, np.concatenate([b[:, 0], b[:, 1]]), rcond=None)[0]
    return np.array([[p[0], -p[1], p[2]], [p[1], p[0], p[3]], [0, 0, 1.0]])


def _rows(*columns: ArrayLike) -> Floats:
    return np.stack(np.broadcast_arrays(*columns), axis=-1).astype(np.float64)


def _affine(a: Floats, b: Floats) -> Floats:
    p = np.linalg.lstsq(_rows(a[:, 0], a[:, 1], 1), b, rcond=None)[0]
    return np.vstack([p.T, [0, 0, 1.0]])


def _homography(a: Floats, b: Floats) -> Floats:
    x, y, u, v = a[:, 0], a[:, 1], b[:, 0], b[:, 1]
    rows = np.concatenate([
        _rows(x, y, 1, 0, 0, 0, -u * x, -u * y, -u), _rows(0, 0, 0, x, y, 1, -v * x, -v * y, -v)
    ])  # fmt: skip
    matrix = np.linalg.svd(rows)[2][-1].reshape(3, 3)
    if abs(matrix[2, 2]) < 1e-9:
        return np.zeros((3, 3))
    matrix = matrix / matrix[2, 2]
    for _ in range(10):
        step = np.linalg.lstsq(slopes(matrix, a), (b - mapped(matrix, a)).ravel(), rcond=None)[0]
        matrix = matrix + np.append(step, 0.0).reshape(3, 3)
    return np.asarray(matrix)


def slopes(matrix: Floats, points: Floats) -> Floats:
    """Derivatives of mapped x and y by the eight entries of a homography, shape (2 n, 8)."""
    x, y = points[:, 0], points[:, 1]
    below = points @ matrix[2, :2] + matrix[2, 2]
    u, v = mapped(matrix, points).T
    one = 1.0 / below
    nil = np.zeros_like(x)
    over_x = np.stack([x * one, y * one, one, nil, nil, nil, -u * x * one, -u * y * one], axis=1)
    over_y = np.stack([nil, nil, nil, x * one, y * one, one, -v * x * one, -v * y * one], axis=1)
    return np.stack([over_x, over_y], axis=1).reshape(-1, 8)


def _check(a: Floats, b: Floats, kind: str) -> None:
    if kind not in KINDS:
        raise _bad(f"the kind of map '{kind}'", ", ".join(KINDS))
    if a.shape != b.shape or a.ndim != 2 or a.shape[1] != 2 or not (np.isfinite(a).all() and np.isfinite(b).all()):
        raise _bad("points that do not pair", "pairs of x and y on both sides")
    if len(a) < KINDS[kind]:
        raise _bad(f"{len(a)} matched points", f"{KINDS[kind]} or more for a map of the kind {kind}")
    for side in (a, b):
        spread = np.linalg.svd(side - side.mean(axis=0), compute_uv=False)
        if spread[0] <= 0 or (kind != "similarity" and spread[1] < FLAT * spread[0]):
            raise _bad("matched points that coincide or lie on one line", "points spread over the board")


def _bad(found: str, allowed: str) -> BadInput:
    return BadInput("Cannot place one picture on the other", found, allowed,
                    "Match points near the corners of the board, each with its own counterpart.")  # fmt: skip
