"""Structure: what of a temperature picture stays the same when other parts are hot."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kilter.thermal.figures import number
from kilter.thermal.resample import blurred, box_mean

Floats = NDArray[np.float64]


def noise_of(picture: Floats) -> float:
    """
    Standard deviation of a picture's pixel noise, from what neighbours of neighbours cannot explain. [K]

    Source: the mask of Immerkaer (1996), with the median instead of the mean against edges; from memory, checked
    in the tests on noise of known size.
    """
    p = picture
    mask = (
        p[:-2, :-2] + p[:-2, 2:] + p[2:, :-2] + p[2:, 2:] + 4 * p[1:-1, 1:-1]
        - 2 * (p[:-2, 1:-1] + p[2:, 1:-1] + p[1:-1, :-2] + p[1:-1, 2:])
    )  # fmt: skip
    return float(np.median(np.abs(mask)) / 0.6745 / 6.0)


def without_stripes(picture: Floats) -> Floats:
    """The picture without the fixed pattern of a camera's columns and rows, which would match itself at no shift."""
    for axis in (0, 1):
        fine = picture - blurred(picture, number("stripe_blur"))
        offset = np.median(fine, axis=axis, keepdims=True)
        picture = picture - offset
    return picture


def structure(picture: Floats, sigma: float, noise: float) -> Floats:
    """
    Logarithm of the gradient, less its surroundings, over its local size.

    A part that is hotter has the same outline with a larger gradient; the logarithm turns that into an offset, which
    the surroundings take away. What is below the noise counts as flat.

    Args:
        picture: Temperatures. [K]
        sigma: Blur before the gradient. [pixels]
        noise: Standard deviation of a pixel. [K]
    """
    smooth = blurred(picture, sigma)
    down, across = np.gradient(smooth)
    floor = number("gradient_floor") * max(noise, 1e-6) / (sigma**2 * np.sqrt(8 * np.pi))
    steep = np.log(np.hypot(down, across) + floor)
    half = int(number("surroundings"))
    level = steep - box_mean(steep, half)
    size = np.sqrt(box_mean(level**2, half))
    return np.asarray(level / (size + 0.5 * np.sqrt(np.mean(level**2)) + 1e-12))
