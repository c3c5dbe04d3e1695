"""
Refinement: Gauss-Newton on the difference of two structures, gain and offset left free, far-off pixels weighed down.

With gain and offset free this finds the same map as the largest correlation coefficient does (Evangelidis and
Psarakis, 2008, from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kilter.thermal.figures import number
from kilter.thermal.placing import mapped, slopes
from kilter.thermal.resample import looked_up

Floats = NDArray[np.float64]

FREE = {"affine": [0, 1, 2, 3, 4, 5], "homography": [0, 1, 2, 3, 4, 5, 6, 7]}
"""Entries of the map that may move, by its kind."""


def refined(good: Floats, found: Floats, start: Floats, kind: str, *, points: Floats, rounds: int = 25) -> Floats:
    """
    The map from the good picture to the object's, made better.

    Args:
        good: Structure of the known-good picture.
        found: Structure of the object's picture.
        start: Map to begin with, shape (3, 3).
        kind: 'affine' or 'homography'.
        points: Pixels of the good picture that are compared, shape (n, 2), whole numbers.
        rounds: Most steps.
    """
    want = good[points[:, 1].astype(np.intp), points[:, 0].astype(np.intp)]
    down, across = (np.asarray(one) for one in np.gradient(found))
    size, matrix = float(max(found.shape)), start
    for _ in range(rounds):
        step = _step(want, found, (across, down), matrix, points, FREE[kind])
        if step is None:
            return start
        matrix = matrix + step
        moved = mapped(matrix, _frame(good.shape)) - mapped(matrix - step, _frame(good.shape))
        if not np.isfinite(moved).all() or np.abs(moved).max() > size:
            return start
        if np.abs(moved).max() < number("settled_step"):
            break
    return matrix


def _frame(shape: tuple[int, ...]) -> Floats:
    rows, columns = shape
    return np.array([[0, 0], [columns - 1, 0], [0, rows - 1], [columns - 1, rows - 1]], np.float64)


def _step(
    want: Floats, found: Floats, gradient: tuple[Floats, Floats], matrix: Floats, points: Floats, free: list[int]
) -> Floats | None:
    x, y = mapped(matrix, points).T
    seen = looked_up(found, x, y)
    inside = np.isfinite(seen)
    if inside.sum() < 10 * len(free):
        return None
    seen, wanted, p, x, y = seen[inside], want[inside], points[inside], x[inside], y[inside]
    over = slopes(matrix, p).reshape(-1, 2, 8)
    gx, gy = (looked_up(one, x, y) for one in gradient)
    columns = (gx[:, None] * over[:, 0] + gy[:, None] * over[:, 1])[:, free]
    design = np.column_stack([columns, -wanted, -np.ones_like(wanted)])
    miss = -seen
    fit = seen - np.polyval(np.polyfit(wanted, seen, 1), wanted)
    weights = _weights(fit)
    scale = np.sqrt((design**2).mean(axis=0)) + 1e-12
    scaled = design / scale
    normal = scaled.T @ (weights[:, None] * scaled)
    normal[np.diag_indices_from(normal)] *= 1 + 1e-6
    try:
        solved = np.linalg.solve(normal, scaled.T @ (weights * miss)) / scale
    except np.linalg.LinAlgError:
        return None
    step = np.zeros(9)
    step[free] = solved[: len(free)]
    return step.reshape(3, 3)


def _weights(residuals: Floats) -> Floats:
    """Tukey's biweight about a robust scale: a part that is hot in one picture only does not pull."""
    scale = number("robust_cut") * np.median(np.abs(residuals)) / 0.6745 + 1e-12
    return np.asarray(np.clip(1 - (residuals / scale) ** 2, 0.0, None) ** 2)
