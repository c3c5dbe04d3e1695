"""Temperature rises of parts: from one picture, over known-good pictures, and over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput
from kilter.thermal.figures import number
from kilter.thermal.image import TemperatureImage
from kilter.thermal.outlines import Outline, area, inside, narrowest

Floats = NDArray[np.float64]

SEEN = 0.85
"""Share of an outline that has to be on the picture; counting pixels errs by some of it on small parts."""


@dataclass(frozen=True)
class Ambient:
    """
    The surroundings of a picture.

    Args:
        celsius: Their temperature. [degC]
        uncertainty: Standard, k = 1. [K]
        guessed: Taken from the coolest part of the picture, because nobody said more.
    """

    celsius: float
    uncertainty: float
    guessed: bool


@dataclass(frozen=True)
class Rise:
    """
    How warm one part is.

    Args:
        ref: Of the part.
        kelvin: Above the surroundings, NaN where it was not read. [K]
        uncertainty: Standard, k = 1. [K]
        pixels: That it was read from.
        unread: Why it was not read; '' where it was.
    """

    ref: str
    kelvin: float
    uncertainty: float
    pixels: int
    unread: str = ""


@dataclass(frozen=True)
class Rate:
    """
    A straight line through rises over time.

    Args:
        kelvin_per_second: Its slope.
        uncertainty: Standard error of the slope.
        steady: Whether a line describes the rises; a part that nears its end temperature bends away from it.
    """

    kelvin_per_second: float
    uncertainty: float
    steady: bool


def ambient_of(image: TemperatureImage, said: float | None = None) -> Ambient:
    """The surroundings as somebody read them, else the coolest part of the picture."""
    if said is not None:
        if not number("coldest") <= said <= number("usual_high"):
            raise BadInput(
            "Cannot compare temperatures", f"surroundings of {said:g} degC",
            f"{number('coldest'):g} to {number('usual_high'):g} degC", "Give the room's temperature.",
        )  # fmt: skip
        return Ambient(said, number("ambient_said"), False)
    coolest = float(np.quantile(image.celsius, number("coolest_share") / 2))
    return Ambient(coolest, number("ambient_guess"), True)


def above(image: TemperatureImage, ambient: Ambient, zero: TemperatureImage | None = None) -> Floats:
    """
    Rises of all pixels, shape (h, w). [K]

    Args:
        image: With power on.
        ambient: Of its surroundings; not used with `zero`.
        zero: The same view before power, which takes most mirrored heat and uneven emissivity away.

    Raises:
        BadInput: The two pictures differ in size.
    """
    if zero is None:
        return np.asarray(image.celsius - ambient.celsius)
    if zero.celsius.shape != image.celsius.shape:
        sizes = " and ".join(f"{one.celsius.shape[1]} by {one.celsius.shape[0]} pixels" for one in (image, zero))
        raise BadInput("Cannot take the picture before power off the one with power", sizes, "two views of one size",
                       "Take both with the camera left where it is.")  # fmt: skip
    return np.asarray(image.celsius - zero.celsius)


def rise_of(rises: Floats, outline: Outline, ambient: Ambient, error: float) -> Rise:
    """
    The middle value inside an outline.

    Args:
        rises: Of all pixels. [K]
        outline: On this picture. [pixels]
        ambient: For its uncertainty.
        error: Of where the outline lies, from registration. [pixels]
    """
    shape = (rises.shape[0], rises.shape[1])
    if narrowest(outline) < number("least_part"):
        return Rise(outline.ref, float("nan"), float("nan"), 0, "too small in the picture")
    rows, columns = inside(outline, shape, min(number("shrink"), narrowest(outline) / 4))
    if inside(outline, shape)[0].size < SEEN * area(outline) or not rows.size:
        return Rise(outline.ref, float("nan"), float("nan"), 0, "not in the picture")
    middle = float(np.median(rises[rows, columns]))
    slip = _slip(rises, rows, columns, middle, error)
    parts = [number("camera_noise"), number("camera_share") * abs(middle), ambient.uncertainty, slip]
    return Rise(outline.ref, middle, float(np.hypot.reduce(parts)), int(rows.size))


def _slip(rises: Floats, rows: NDArray[np.intp], columns: NDArray[np.intp], middle: float, error: float) -> float:
    """How far the middle value moves when the outline lies off by the registration's error; whole pixels, scaled."""
    step = max(1, int(np.ceil(error)))
    moved = []
    for down, across in ((step, 0), (-step, 0), (0, step), (0, -step)):
        y, x = np.clip(rows + down, 0, rises.shape[0] - 1), np.clip(columns + across, 0, rises.shape[1] - 1)
        moved.append(abs(float(np.median(rises[y, x])) - middle))
    return max(moved) * min(error / step, 1.0)


def rise_rate(seconds: Sequence[float], kelvin: Sequence[float]) -> Rate:
    """
    The least-squares line through rises over time.

    Raises:
        BadInput: Fewer than three different times.

    >>> rise_rate([0.0, 1.0, 2.0, 3.0], [0.0, 0.5, 1.0, 1.5]).kelvin_per_second
    0.5
    """
    t, y = np.asarray(seconds, np.float64), np.asarray(kelvin, np.float64)
    if len(np.unique(t)) < 3 or not (np.isfinite(t).all() and np.isfinite(y).all()):
        raise BadInput("Cannot find a rate of rise", f"{len(np.unique(t))} different times", "three or more",
                       "Take pictures at three times or more after switching on.")  # fmt: skip
    t0 = t - t.mean()
    slope = float((t0 * y).sum() / (t0**2).sum())
    left = y - y.mean() - slope * t0
    error = float(np.sqrt((left**2).sum() / (len(t) - 2) / (t0**2).sum()))
    span = max(abs(slope) * float(np.ptp(t)), number("camera_noise"))
    return Rate(slope, error, bool(np.abs(left).max() <= max(number("settling_share") * span, number("camera_noise"))))
