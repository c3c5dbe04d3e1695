"""Coarse search: the turns, scales and shifts that bring the structures of two pictures together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.thermal.figures import number
from kilter.thermal.placing import similarity
from kilter.thermal.resample import warped

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Guess:
    """A coarse map from the good picture to the object's, with the correlation of their structures under it."""

    matrix: Floats
    correlation: float


def coarse_guesses(good: Floats, found: Floats, most: int = 4) -> list[Guess]:
    """
    The likeliest maps, best first.

    Args:
        good: Structure of the known-good picture, shrunk. Shape (h, w).
        found: Structure of the object's picture, shrunk. Shape (h', w').
        most: Guesses wanted; they differ in turn or scale.

    Source: correlation normalised over the overlap by transforms (D. Padfield, 2012; from memory), one for each turn
    and scale.
    """
    shape = tuple(int(2 ** np.ceil(np.log2(a + b))) for a, b in zip(good.shape, found.shape, strict=True))
    against = _transforms(found, np.ones_like(found), shape)
    middle = np.array([(good.shape[1] - 1) / 2, (good.shape[0] - 1) / 2])
    guesses = []
    for degrees in _steps("search_degrees", "search_degree_step"):
        for percent in _steps("search_percent", "search_percent_step"):
            turn = similarity(1 + percent / 100, degrees, (0, 0), middle)
            guesses.append(_best_shift(good, turn, against, found.shape, shape))
    return sorted(guesses, key=lambda guess: -guess.correlation)[:most]


def _steps(limit: str, step: str) -> Floats:
    count = round(number(limit) / number(step))
    return np.asarray(np.arange(-count, count + 1) * number(step), np.float64)


def _transforms(picture: Floats, mask: Floats, shape: tuple[int, ...]) -> Floats:
    return np.asarray(np.fft.rfft2(np.stack([picture * mask, picture**2 * mask, mask]), s=shape))


def _best_shift(good: Floats, turn: Floats, against: Floats, size: tuple[int, ...], shape: tuple[int, ...]) -> Guess:
    turned = warped(good, np.asarray(np.linalg.inv(turn), np.float64), (good.shape[0], good.shape[1]))
    mask = np.isfinite(turned).astype(np.float64)
    score = _correlations(_transforms(np.nan_to_num(turned), mask, shape), against, size, shape)
    reach = [int(number("search_shift") * n) for n in size]
    window = np.full(shape, -1.0)
    for rows in (slice(0, reach[0] + 1), slice(-reach[0], None)):
        for columns in (slice(0, reach[1] + 1), slice(-reach[1], None)):
            window[rows, columns] = score[rows, columns]
    top = np.unravel_index(int(window.argmax()), shape)
    dy, dx = (at if at <= n // 2 else at - n for at, n in zip(map(int, top), shape, strict=True))
    shift = np.array([[1.0, 0, dx], [0, 1, dy], [0, 0, 1]])
    return Guess(shift @ turn, float(window[top]))


def _correlations(moved: Floats, against: Floats, size: tuple[int, ...], shape: tuple[int, ...]) -> Floats:
    """Correlation over the overlap for every shift; small overlaps count as none."""
    (m, m2, mask), (f, f2, whole) = np.conj(moved), against
    cross, sum_m, sum_f, sq_m, sq_f, count = np.fft.irfft2(
        np.stack([m * f, m * whole, mask * f, m2 * whole, mask * f2, mask * whole]), s=shape
    )
    count = np.maximum(count, 1.0)
    with np.errstate(invalid="ignore"):
        below = np.sqrt(np.maximum(sq_m - sum_m**2 / count, 0) * np.maximum(sq_f - sum_f**2 / count, 0))
    enough = count > number("least_overlap") * size[0] * size[1]
    return np.where(enough & (below > 1e-9), (cross - sum_m * sum_f / count) / np.maximum(below, 1e-9), -1.0)
