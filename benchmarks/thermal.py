"""
Registration of temperature pictures on made-up boards whose true place is known.

    python benchmarks/thermal.py [TRIALS] [--others]

Random trials at 320 by 240: turned within 10 degrees, scaled within 10 %, shifted within 15 % of each side, a slight
perspective, noise of 0.05 to 0.15 K, another room and another gain; see tests/thermal/scenes.py for how the pictures
are drawn. Printed for each kind of difference between the two boards: the share that was registered within 1 pixel RMS
over the board, the share that was refused with a reason, and the failures that went unnoticed. 'stranger' is another
board altogether: every one of them ought to be refused. With --others the same trials are done by an outside library
where it is installed (cv2): corners and descriptors with a random consensus, the same refined by correlation of log
gradients; neither of them says when it failed.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "thermal"))

import scenes

from kilter.thermal.register import register

SEED = 2026
ASKED = ("same", "one hot", "hot missing")
KINDS = (*ASKED, "half", "own texture", "cold", "stranger")


def ours(kind: str, trials: int) -> tuple[int, int]:
    """Prints one line; successes and failures that went unnoticed."""
    errors, found, times = [], [], []
    for number in range(trials):
        good, other, points = scenes.trial(np.random.default_rng([SEED, number]), kind)
        began = time.perf_counter()
        told = register(good.celsius, other.celsius)
        times.append(time.perf_counter() - began)
        errors.append(scenes.true_error(told.matrix, other.matrix, points) if kind != "stranger" else np.inf)
        found.append(told.found)
    close, kept = np.array(errors) < 1.0, np.array(found)
    right, missed = int((close & kept).sum()), int((~close & kept).sum())
    middle = f"{np.median(np.array(errors)[kept]):.2f}" if kept.any() else "-"
    print(
        f"{kind:<12} {right:>4}/{trials} within 1 px, {int((~kept).sum()):>3} refused, {missed} failures unnoticed, "
        f"median error {middle} px, {1e3 * np.median(times):.0f} ms", flush=True,
    )  # fmt: skip
    return right, missed


def others(kind: str, trials: int) -> None:
    """The outside library on the same pictures."""
    import cv2

    rows: dict[str, list[float]] = {"cv2 descriptors": [], "cv2 descriptors, refined": []}
    for number in range(trials):
        good, other, points = scenes.trial(np.random.default_rng([SEED, number]), kind)
        a, b = _grey(good.celsius), _grey(other.celsius)
        matrix = _descriptors(cv2, a, b)
        rows["cv2 descriptors"].append(_error(matrix, other, points))
        matrix = _refined(cv2, good.celsius, other.celsius, matrix)
        rows["cv2 descriptors, refined"].append(_error(matrix, other, points))
    for name, errors in rows.items():
        right = np.array(errors) < 1.0
        print(f"  {name:<26} {int(right.sum()):>4}/{trials} within 1 px, median error {np.median(errors):.2f} px")


def _error(matrix: scenes.Floats | None, other: scenes.View, points: scenes.Floats) -> float:
    return np.inf if matrix is None else scenes.true_error(matrix, other.matrix, points)


def _grey(celsius: scenes.Floats) -> np.ndarray:
    low, high = np.percentile(celsius, [1, 99])
    return np.clip(255 * (celsius - low) / (high - low), 0, 255).astype(np.uint8)


def _descriptors(cv2: object, a: np.ndarray, b: np.ndarray) -> scenes.Floats | None:
    finder = cv2.SIFT_create(contrastThreshold=0.01)  # type: ignore[attr-defined]
    (keys_a, told_a), (keys_b, told_b) = finder.detectAndCompute(a, None), finder.detectAndCompute(b, None)
    if told_a is None or told_b is None:
        return None
    pairs = cv2.BFMatcher(cv2.NORM_L2, crossCheck=True).match(told_a, told_b)  # type: ignore[attr-defined]
    if len(pairs) < 4:
        return None
    source = np.float64([keys_a[p.queryIdx].pt for p in pairs])
    target = np.float64([keys_b[p.trainIdx].pt for p in pairs])
    return cv2.findHomography(source, target, cv2.RANSAC, 3.0)[0]  # type: ignore[attr-defined,no-any-return]


def _refined(cv2: object, a: scenes.Floats, b: scenes.Floats, start: scenes.Floats | None) -> scenes.Floats | None:
    if start is None:
        return None
    steep = [np.log(np.hypot(*np.gradient(cv2.GaussianBlur(p, (0, 0), 1.5))) + 0.02) for p in (a, b)]  # type: ignore[attr-defined]
    settings = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 100, 1e-6)  # type: ignore[attr-defined]
    images = [p.astype(np.float32) for p in steep]
    try:
        found = cv2.findTransformECC(  # type: ignore[attr-defined]
            images[0],
            images[1],
            start.astype(np.float32),
            cv2.MOTION_HOMOGRAPHY,
            settings,
            None,
            5,  # type: ignore[attr-defined]
        )[1]
    except cv2.error:  # type: ignore[attr-defined]
        return None
    return np.asarray(found, np.float64)


def main() -> None:
    """One line for each kind of difference, and the sum over those that are asked for."""
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    trials = numbers[0] if numbers else 67
    right = missed = 0
    for kind in KINDS:
        one, two = ours(kind, trials)
        missed += two
        right += one if kind in ASKED else 0
        if "--others" in sys.argv and kind != "stranger":
            others(kind, trials)
    whole = trials * len(ASKED)
    print(f"{right}/{whole} ({100 * right / whole:.1f} %) of 'same', 'one hot' and 'hot missing' within 1 px; "
          f"{missed} failures unnoticed over all {trials * len(KINDS)} trials")  # fmt: skip


if __name__ == "__main__":
    main()
