"""Register: find where each pixel of the known-good picture lies in the object's, and say when that failed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput
from kilter.thermal.agreement import Agreement, agreement
from kilter.thermal.figures import number
from kilter.thermal.placing import mapped, place
from kilter.thermal.refine import refined
from kilter.thermal.resample import shrunk, shrunk_map
from kilter.thermal.search import coarse_guesses
from kilter.thermal.structure import noise_of, structure, without_stripes

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Registration:
    """
    Where the known-good board lies in the object's picture.

    Args:
        matrix: From pixels of the good picture to pixels of the object's, shape (3, 3).
        error: What is left between the two, as far as the pictures tell; NaN where they do not. [pixels]
        agreement: The numbers behind the judgement; None for corners set by hand that were not refined.
        doubts: Why it should not be used; empty where nothing speaks against it.
        how: 'structure', 'corners, refined' or 'corners'.
    """

    matrix: Floats
    error: float
    agreement: Agreement | None
    doubts: tuple[str, ...]
    how: str

    @property
    def found(self) -> bool:
        """Whether it may be used."""
        return not self.doubts


@dataclass(frozen=True)
class _Views:
    """One picture's structure at full size, halved and quartered."""

    full: Floats
    half: Floats
    quarter: Floats


def register(good: ArrayLike, found: ArrayLike) -> Registration:
    """
    Registers by structure alone: coarse search, refinement from small to full size, and a check block by block.

    Args:
        good: Temperatures of the known-good board, shape (h, w). [K or degC]
        found: Temperatures of the object, shape (h', w').

    Returns:
        A registration whose `doubts` say why it failed, where it did.
    """
    a, b = _views(good), _views(found)
    tries = [_climb(a, b, guess.matrix) for guess in coarse_guesses(a.quarter, b.quarter)]
    looks = [agreement(a.half, b.half, shrunk_map(one, 2)) for one in tries]
    best = max(range(len(tries)), key=lambda k: (looks[k].agreeing * looks[k].overlap, looks[k].correlation))
    return _judged(a, b, _finished(a, b, tries[best]), "structure")


def register_by_corners(
    good: ArrayLike, found: ArrayLike, good_corners: ArrayLike, found_corners: ArrayLike
) -> Registration:
    """
    Registers from four or more corners set by hand, and refines them where the pictures agree.

    Where refinement fails its check, or moves a corner further than a hand errs, the corners stay as they were set;
    `error` is then the error of a hand.
    """
    a, b = _views(good), _views(found)
    corners = np.asarray(good_corners, np.float64)
    set_by_hand = place(corners, found_corners, "homography").matrix
    better = _finished(a, b, set_by_hand)
    told = _judged(a, b, better, "corners, refined")
    moved = np.hypot(*(mapped(better, corners) - mapped(set_by_hand, corners)).T).max()
    if told.found and moved <= number("corner_trust") * number("corner_error"):
        return told
    return Registration(set_by_hand, number("corner_error"), None, (), "corners")


def _views(picture: ArrayLike) -> _Views:
    picture = without_stripes(_checked(picture))
    sigma, noise = number("structure_blur"), noise_of(picture)
    half, quarter = shrunk(picture, 2), shrunk(picture, 4)
    return _Views(
        structure(picture, sigma, noise), structure(half, sigma, noise / 2), structure(quarter, sigma, noise / 4)
    )


def _checked(picture: ArrayLike) -> Floats:
    values = np.asarray(picture, np.float64)
    least = int(number("least_side"))
    if values.ndim != 2 or min(values.shape) < least or not np.isfinite(values).all():
        shape = " by ".join(map(str, values.shape))
        raise BadInput("Cannot register a temperature picture", f"{shape} values, not all of them numbers or too few",
                       f"{least} by {least} finite temperatures or more",
                       "Use the matrix of the whole picture.")  # fmt: skip
    if values.max() - values.min() <= 0:
        raise BadInput("Cannot register a temperature picture", f"the same {values.max():g} everywhere",
                       "a picture with a board in it", "Take the picture again.")  # fmt: skip
    return values


def _climb(a: _Views, b: _Views, guess: Floats) -> Floats:
    """From a guess at quarter size to an affine map at full size."""
    matrix = refined(a.quarter, b.quarter, guess, "affine", points=_points(a.quarter))
    matrix = refined(a.half, b.half, shrunk_map(matrix, 0.5), "affine", points=_points(a.half))
    return shrunk_map(matrix, 0.5)


def _finished(a: _Views, b: _Views, start: Floats) -> Floats:
    matrix = refined(a.half, b.half, shrunk_map(start, 2), "homography", points=_points(a.half))
    return refined(a.full, b.full, shrunk_map(matrix, 0.5), "homography", points=_points(a.full))


def _points(picture: Floats) -> Floats:
    """Pixels to compare: all but the border, every other one where there are many."""
    step = 1 if picture.size <= number("most_compared") else 2
    y, x = np.mgrid[2 : picture.shape[0] - 2 : step, 2 : picture.shape[1] - 2 : step]
    return np.stack([x.ravel(), y.ravel()], axis=1).astype(np.float64)


def _judged(a: _Views, b: _Views, matrix: Floats, how: str) -> Registration:
    told = agreement(a.full, b.full, matrix)
    return Registration(matrix, told.error, told, tuple(_doubts(told, matrix, a.full.shape)), how)


def _doubts(told: Agreement, matrix: Floats, shape: Sequence[int]) -> list[str]:
    found = []
    if told.overlap < number("least_overlap"):
        found.append(f"only {100 * told.overlap:.0f} % of the known-good picture lies in the object's")
    if told.agreeing < number("agreeing_share") or told.blocks < number("agreeing_blocks"):
        found.append(f"the pictures agree in {told.blocks} places, {100 * told.agreeing:.0f} % of those looked at")
    elif told.spread < number("agreeing_spread") * min(shape):
        found.append("the places that agree lie close together")
    if not told.error <= number("largest_error"):
        found.append(f"the places that agree are still {told.error:.1f} pixels apart")
    stretch = np.linalg.svd(matrix[:2, :2], compute_uv=False)
    if not number("least_stretch") <= stretch[1] <= stretch[0] <= 1 / number("least_stretch"):
        found.append(f"the object would be {stretch[0]:.2f} by {stretch[1]:.2f} times the size of the known-good one")
    return found
