"""
Temperature pictures of the demonstration's board, drawn from its positions with nothing of Kilter but the board file.

The object's picture is turned, moved and scaled; where each part lies on it is known by construction. Laminate is level
but for a fixed pattern that both boards share, as tracks and print make one.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
from hands import DEMO
from numpy.typing import NDArray

ROWS, COLUMNS, AMBIENT = 240, 320, 22.0
BIG = {"processor", "rom", "memory", "counter", "logic", "regulator", "display"}
PARTS = tomllib.loads(Path(str(DEMO / "board.toml")).read_text("utf-8"))["parts"]


def view(degrees: float, scale: float, shift: tuple[float, float]) -> NDArray[np.float64]:
    """From millimetres of the board to pixels, shape (2, 3)."""
    angle = np.deg2rad(degrees)
    turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    middle = np.array([COLUMNS / 2 + shift[0], ROWS / 2 + shift[1]]) - turn @ np.array([110.0, 75.0])
    return np.column_stack([turn, middle])


GOOD, OBJECT = view(-2, 1.2, (-6, 5)), view(3, 1.25, (4, -3))


def pixel(matrix: NDArray[np.float64], ref: str) -> tuple[float, float]:
    """Where a part's middle is."""
    x, y = matrix @ np.array([*PARTS[ref]["position"], 1.0])
    return float(x), float(y)


def drawn(matrix: NDArray[np.float64], rises: dict[str, float], seed: int) -> str:
    """The picture as text; parts that `rises` does not name are warm as their kind is."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
    away = np.stack([x - matrix[0, 2], y - matrix[1, 2]])
    across, down = np.einsum("ij,jhw->ihw", np.linalg.inv(matrix[:, :2]), away)
    on = (across > -3) & (across < 222) & (down > 0) & (down < 152)
    warm = np.where(on, AMBIENT, AMBIENT - 1.0)
    fixed = np.random.default_rng(7)
    for _ in range(90):
        left, top, long = fixed.uniform(0, 200), fixed.uniform(0, 145), fixed.uniform(3, 20)
        wide, high = (long, 0.8) if fixed.random() < 0.5 else (0.8, long)
        warm[(np.abs(across - left) < wide) & (np.abs(down - top) < high)] -= 0.7
    for ref, row in PARTS.items():
        if "position" in row:
            big = row.get("kind") in BIG
            usual = fixed.uniform(2, 9) if big else fixed.uniform(0.5, 4)
            left, top = row["position"]
            inside = (np.abs(across - left) < (8 if big else 3)) & (np.abs(down - top) < (5 if big else 2))
            warm[inside] = AMBIENT + rises.get(ref, usual)
    warm += 0.07 * np.random.default_rng(seed).standard_normal(warm.shape)
    return "".join(";".join(f"{one:.2f}" for one in row) + "\n" for row in warm)
