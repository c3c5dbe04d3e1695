"""Blur, shrink and look up pictures; pixel (x, y) has its middle at whole numbers, y downwards."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from kilter.thermal.placing import mapped

Floats = NDArray[np.float64]


@cache
def _kernel(sigma: float) -> tuple[float, ...]:
    reach = max(1, int(np.ceil(3.0 * sigma)))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    return tuple(map(float, weights / weights.sum()))


def blurred(picture: Floats, sigma: float) -> Floats:
    """Gaussian blur with mirrored edges. [pixels]"""
    if sigma <= 0:
        return picture
    weights = _kernel(sigma)
    for axis in (0, 1):
        reach = min(len(weights) // 2, picture.shape[axis] - 1)
        core = np.array(weights[len(weights) // 2 - reach : len(weights) // 2 + reach + 1])
        core /= core.sum()
        edge = [(reach, reach) if a == axis else (0, 0) for a in (0, 1)]
        padded, size = np.pad(picture, edge, mode="reflect"), picture.shape[axis]
        out = np.zeros_like(picture)
        for place, weight in enumerate(core):
            out += weight * (padded[place : place + size] if axis == 0 else padded[:, place : place + size])
        picture = out
    return picture


def box_mean(picture: Floats, half: int) -> Floats:
    """Mean over a square of 2 half + 1 pixels, smaller at the edges."""
    padded = np.pad(picture, ((1, 0), (1, 0))).cumsum(axis=0).cumsum(axis=1)
    rows, columns = picture.shape
    top, bottom = np.maximum(np.arange(rows) - half, 0), np.minimum(np.arange(rows) + half + 1, rows)
    left, right = np.maximum(np.arange(columns) - half, 0), np.minimum(np.arange(columns) + half + 1, columns)
    total = padded[bottom][:, right] - padded[top][:, right] - padded[bottom][:, left] + padded[top][:, left]
    return np.asarray(total / np.outer(bottom - top, right - left))


def shrunk(picture: Floats, factor: int) -> Floats:
    """Means over squares of factor pixels; rows and columns left over are dropped."""
    rows, columns = (size // factor for size in picture.shape)
    cut = picture[: rows * factor, : columns * factor]
    return np.asarray(cut.reshape(rows, factor, columns, factor).mean(axis=(1, 3)))


def shrunk_map(matrix: Floats, factor: float) -> Floats:
    """The same map between pictures that `shrunk` made smaller; 1 / factor goes back."""
    half = (factor - 1) / 2
    small = np.array([[1 / factor, 0, -half / factor], [0, 1 / factor, -half / factor], [0, 0, 1]])
    found = small @ matrix @ np.linalg.inv(small)
    return np.asarray(found / found[2, 2])


def looked_up(picture: Floats, x: Floats, y: Floats) -> Floats:
    """Bilinear values at places, NaN outside the picture; same shape as x."""
    rows, columns = picture.shape
    inside = (x >= 0) & (y >= 0) & (x <= columns - 1) & (y <= rows - 1)
    x, y = np.where(inside, x, 0.0), np.where(inside, y, 0.0)
    left, top = np.minimum(x.astype(np.intp), columns - 2), np.minimum(y.astype(np.intp), rows - 2)
    right, down = x - left, y - top
    flat, at = picture.ravel(), top * columns + left
    upper = flat[at] * (1 - right) + flat[at + 1] * right
    lower = flat[at + columns] * (1 - right) + flat[at + columns + 1] * right
    return np.where(inside, upper * (1 - down) + lower * down, np.nan)


def grid(rows: int, columns: int) -> Floats:
    """Every pixel's x and y, shape (rows * columns, 2)."""
    y, x = np.mgrid[0:rows, 0:columns]
    return np.stack([x.ravel(), y.ravel()], axis=1).astype(np.float64)


def warped(picture: Floats, matrix: Floats, shape: tuple[int, int]) -> Floats:
    """
    The picture as seen from another plane: each pixel p of the result is the picture at matrix · p; NaN outside.

    Args:
        picture: Looked up.
        matrix: From pixels of the result to pixels of the picture, shape (3, 3).
        shape: Rows and columns of the result.
    """
    x, y = mapped(matrix, grid(*shape)).T
    return looked_up(picture, x, y).reshape(shape)
