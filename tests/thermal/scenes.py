"""
Temperature pictures of a made-up board whose true place is known, drawn without anything of Kilter.

The board is drawn large, each view is resampled from it by scipy.ndimage (an outside library), so the map between two
views is known by construction. Laminate texture, copper that reflects, noise, and a fixed pattern of the camera's
columns are put in; the fixed pattern is the same in both views, as it is with one camera.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Floats = NDArray[np.float64]

ROWS, COLUMNS = 240, 320
FINE = 3
BOARD = (170, 240)
"""Height and width of the board in pixels of the picture."""


@dataclass(frozen=True)
class Part:
    """Left, top, right, bottom in pixels of the known-good view; rise in kelvin; emissivity."""

    box: tuple[float, float, float, float]
    rise: float
    emissivity: float = 0.92


@dataclass(frozen=True)
class View:
    """A picture and the map from the known-good view's pixels to its own."""

    celsius: Floats
    matrix: Floats


def parts_of(rng: np.random.Generator, count: int = 28) -> list[Part]:
    """Parts of many sizes that do not overlap."""
    top, left = (ROWS - BOARD[0]) / 2, (COLUMNS - BOARD[1]) / 2
    found: list[Part] = []
    for _ in range(4000):
        wide, high = sorted(rng.uniform(6, 44, 2), reverse=bool(rng.random() < 0.7))
        high = min(high, 30.0)
        x, y = left + rng.uniform(3, BOARD[1] - wide - 3), top + rng.uniform(3, BOARD[0] - high - 3)
        box = (x, y, x + wide, y + high)
        if all(x > b[2] + 2 or b[0] > box[2] + 2 or y > b[3] + 2 or b[1] > box[3] + 2 for b in (p.box for p in found)):
            shiny = rng.random() < 0.12
            found.append(Part(box, float(rng.lognormal(1.6, 0.8)), 0.2 if shiny else float(rng.uniform(0.88, 0.96))))
        if len(found) == count:
            break
    return found


def texture(rng: np.random.Generator) -> Floats:
    """Emissivity of laminate with tracks, over the whole fine picture."""
    fine = np.full((ROWS * FINE, COLUMNS * FINE), 0.9)
    for _ in range(70):
        y, x = rng.integers(40 * FINE, 200 * FINE), rng.integers(45 * FINE, 275 * FINE)
        length, width = int(rng.integers(10, 60)) * FINE, int(rng.integers(1, 3)) * FINE
        along = (slice(y, y + width), slice(x, x + length))
        across = (slice(y, y + length), slice(x, x + width))
        fine[along if rng.random() < 0.6 else across] = rng.uniform(0.6, 0.85)
    return fine


def draw(
    parts: list[Part], surface: Floats, matrix: Floats, rng: np.random.Generator, *, ambient: float = 22.0,
    bench: float = -1.0, netd: float = 0.08, stripes: Floats | None = None, gain: float = 1.0,
) -> View:  # fmt: skip
    """
    One view.

    Args:
        parts: With their rises in this view.
        surface: Emissivity, fine.
        matrix: From pixels of the known-good view to pixels of this one.
        rng: For noise.
        ambient: Of the room. [degC]
        bench: Temperature of the bench against the board's laminate. [K]
        netd: Noise of a pixel. [K]
        stripes: Fixed pattern, shape (COLUMNS,).
        gain: On all rises.
    """
    true, emissivity = scene(parts, surface, ambient, bench, gain)
    seen = emissivity * true + (1 - emissivity) * (ambient - 3.0)
    fine = np.diag([FINE, FINE, 1.0])
    fine[:2, 2] = (FINE - 1) / 2
    back = fine @ np.linalg.inv(matrix)
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
    below = back[2, 0] * x + back[2, 1] * y + back[2, 2]
    at_x = (back[0, 0] * x + back[0, 1] * y + back[0, 2]) / below
    at_y = (back[1, 0] * x + back[1, 1] * y + back[1, 2]) / below
    lens = ndimage.gaussian_filter(seen, 0.8 * FINE)
    picture = ndimage.map_coordinates(lens, [at_y, at_x], order=1, mode="nearest")
    fixed = 0.0 if stripes is None else stripes[None, :]
    return View(picture + fixed + netd * rng.standard_normal((ROWS, COLUMNS)), matrix)


def scene(parts: list[Part], surface: Floats, ambient: float, bench: float, gain: float) -> tuple[Floats, Floats]:
    """True temperature and emissivity, fine."""
    true = np.full((ROWS * FINE, COLUMNS * FINE), ambient + bench)
    top, left = (ROWS - BOARD[0]) * FINE // 2, (COLUMNS - BOARD[1]) * FINE // 2
    true[top : top + BOARD[0] * FINE, left : left + BOARD[1] * FINE] = ambient
    emissivity, warmth = surface.copy(), np.zeros_like(true)
    for part in parts:
        x0, y0, x1, y1 = (round(v * FINE) for v in part.box)
        warmth[y0:y1, x0:x1] = part.rise * gain
        emissivity[y0:y1, x0:x1] = part.emissivity
    spread = ndimage.gaussian_filter(warmth, 6 * FINE)
    return true + np.maximum(warmth, 0.6 * spread), emissivity


def view_matrix(degrees: float, scale: float, shift: tuple[float, float], tilt: tuple[float, float]) -> Floats:
    """Turning and scaling about the middle of the picture, a shift, and a slight perspective."""
    middle = np.array([(COLUMNS - 1) / 2, (ROWS - 1) / 2])
    a = np.deg2rad(degrees)
    turn = scale * np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    matrix, to_middle, back = np.eye(3), np.eye(3), np.eye(3)
    matrix[:2, :2], matrix[2, :2] = turn, tilt
    to_middle[:2, 2], back[:2, 2] = -middle, middle + np.array(shift)
    found = back @ matrix @ to_middle
    return np.asarray(found / found[2, 2])


def trial(rng: np.random.Generator, kind: str) -> tuple[View, View, Floats]:
    """
    A known-good view, an object's view, and the points of the board (known-good pixels) that both show.

    Args:
        rng: For everything.
        kind: 'same', 'one hot', 'hot missing', 'half', 'own texture', 'cold', or 'stranger' for another board.
    """
    parts, surface = parts_of(rng), texture(rng)
    stripes = 0.08 * rng.standard_normal(COLUMNS)
    good = draw(parts, surface, np.eye(3), rng, stripes=stripes)
    other = [Part(p.box, p.rise * float(rng.lognormal(0, 0.15)), p.emissivity) for p in parts]
    hottest = max(range(len(other)), key=lambda k: other[k].rise)
    if kind == "hot missing":
        other[hottest] = Part(other[hottest].box, 0.0, surface[0, 0])
    if kind == "one hot":
        which = int(rng.integers(len(other)))
        other[which] = Part(other[which].box, 40.0, other[which].emissivity)
    if kind == "half":
        other = [p if rng.random() < 0.5 else Part(p.box, 0.2, p.emissivity) for p in other]
    if kind == "cold":
        other = [Part(p.box, 0.1, p.emissivity) for p in other]
    if kind == "own texture":
        surface = texture(rng)
    if kind == "stranger":
        other, surface = parts_of(rng), texture(rng)
    matrix = view_matrix(
        rng.uniform(-10, 10), rng.uniform(0.9, 1.1),
        (rng.uniform(-0.15, 0.15) * COLUMNS, rng.uniform(-0.15, 0.15) * ROWS), tuple(rng.uniform(-5e-5, 5e-5, 2)),
    )  # fmt: skip
    found = draw(other, surface, matrix, rng, ambient=22 + rng.uniform(-4, 6), bench=rng.uniform(-2, 1.5),
                 netd=rng.uniform(0.05, 0.15), stripes=stripes, gain=rng.uniform(0.85, 1.15))  # fmt: skip
    return good, found, seen_by_both(matrix)


def seen_by_both(matrix: Floats) -> Floats:
    """A grid over the board, without what the object's picture does not show; shape (n, 2)."""
    left, top = (COLUMNS - BOARD[1]) / 2, (ROWS - BOARD[0]) / 2
    x, y = np.meshgrid(np.linspace(left, left + BOARD[1], 25), np.linspace(top, top + BOARD[0], 18))
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    moved = apply(matrix, points)
    return points[(moved >= 0).all(axis=1) & (moved <= [COLUMNS - 1, ROWS - 1]).all(axis=1)]


def apply(matrix: Floats, points: Floats) -> Floats:
    """Points under a homogeneous map."""
    whole = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(whole[:, :2] / whole[:, 2:])


def true_error(found: Floats, matrix: Floats, points: Floats) -> float:
    """RMS distance between where a map and the true one put the points. [pixels]"""
    with np.errstate(all="ignore"):
        misses = apply(found, points) - apply(matrix, points)
    return float(np.sqrt((misses**2).sum(axis=1).mean())) if np.isfinite(misses).all() else float("inf")
