"""
The calibration report against scipy's Wilson interval and minimiser, and closed forms.

Brier's score of a forecaster who knows the odds is the mean of p (1 - p): G. W. Brier's definition, worked out by hand.
"""

from __future__ import annotations

import numpy as np
import pytest

from kilter.diagnose.recalibration import Recalibration, fitted
from kilter.measure.beta import beta_quantile
from kilter.services.report_calibration import Told, calibration_of, curve_of, wilson
from kilter.services.track_record import track_record

scipy_stats = pytest.importorskip("scipy.stats")
scipy_optimize = pytest.importorskip("scipy.optimize")


def honest(visits: int, seed: int, twist: float = 1.0) -> list[list[Told]]:
    """Visits whose calls have log odds `twist` times too large."""
    random = np.random.default_rng(seed)
    made = []
    for _ in range(visits):
        true = random.beta(0.4, 1.2, size=4)
        called = 1 / (1 + ((1 - true) / true) ** twist)
        made.append([Told(float(p), bool(random.random() < t)) for p, t in zip(called, true, strict=True)])
    return made


@pytest.mark.parametrize(("hits", "of"), [(0, 5), (1, 10), (8, 10), (37, 100), (400, 400)])
def test_wilson_interval_is_that_of_another_library(hits: int, of: int) -> None:
    other = scipy_stats.binomtest(hits, of).proportion_ci(0.95, method="wilson")
    assert wilson(hits, of) == pytest.approx((other.low, other.high), abs=1e-9)


def test_brier_by_hand() -> None:
    # calls 0.9 (so), 0.3 (not), 0.2 (so): (0.01 + 0.09 + 0.64) / 3
    assert curve_of(np.array([0.9, 0.3, 0.2]), [True, False, True]).brier == pytest.approx(0.74 / 3)


def test_bins_hold_every_case_once() -> None:
    called = np.array([0.0, 0.05, 0.0499, 0.75, 0.8499, 0.85, 0.95, 1.0])
    curve = curve_of(called, called > 0.5)
    assert sum(one.cases for one in curve.bins) == len(called)
    assert [one.cases for one in curve.bins] == [2, 1, 2, 1, 2]


def test_the_fit_is_the_one_a_general_minimiser_finds() -> None:
    random = np.random.default_rng(3)
    called = random.random(400)
    so = random.random(400) < called**2
    p = np.clip(called, 1e-6, 1 - 1e-6)

    def loss(w: np.ndarray) -> float:
        logits = w[0] * np.log(p) - w[1] * np.log(1 - p) + w[2]
        pull = ((w - [1, 1, 0]) ** 2).sum() / 2 / 0.7**2
        return float(np.sum(np.log1p(np.exp(-np.where(so, logits, -logits)))) + pull)

    other = scipy_optimize.minimize(loss, [1.0, 1.0, 0.0], method="BFGS", options={"gtol": 1e-8}).x
    ours = fitted(called, so, 0.7)
    assert [ours.below, ours.above, ours.shift] == pytest.approx(list(other), abs=1e-5)


def test_nothing_seen_changes_nothing() -> None:
    assert fitted([], [], 1.0) == Recalibration(1.0, 1.0, 0.0)


def test_honest_calls_pass_and_their_brier_is_the_closed_form() -> None:
    found = calibration_of(honest(6000, 1))
    worst = found.as_called.worst()
    assert worst is not None
    assert worst < 0.05  # 24,000 cases: over 1,000 in the smallest bin, whose 3-sigma is 4.7 points
    a, b = 0.4, 1.2
    expected = a * b / ((a + b) * (a + b + 1))  # E[p(1-p)] of a beta variable
    every = [one for visit in honest(6000, 1) for one in visit]
    whole = curve_of(np.array([one.probability for one in every]), [one.so for one in every])
    assert whole.brier == pytest.approx(expected, abs=0.006)  # five standard errors


def test_overconfident_calls_are_caught_and_mended() -> None:
    found = calibration_of(honest(3000, 2, twist=2.0))
    assert found.recalibrated is not None
    assert (found.as_called.worst() or 0) > 0.10
    assert (found.recalibrated.worst() or 1) < 0.05
    assert found.recalibrated.brier < found.as_called.brier
    assert found.curve.below == pytest.approx(0.5, abs=0.05)  # by construction: log odds were doubled
    assert found.curve.above == pytest.approx(0.5, abs=0.05)


def test_a_track_record_says_what_calls_are_worth() -> None:
    """Log odds were called twice too large, so 0.9 is worth odds of 3 to 1 by construction."""
    found = track_record(honest(3000, 2, twist=2.0))
    assert found is not None
    assert found.helps
    told = found.plain({"R1": 0.9, "C1": 0.1})
    assert [row["part"] for row in told["suspects"]] == ["R1", "C1"]
    assert [row["recalibrated"] for row in told["suspects"]] == pytest.approx([0.75, 0.25], abs=0.03)
    assert "R1 called 90 %: 7" in found.lines({"R1": 0.9, "C1": 0.1}, 1)[0]
    assert "C1" not in found.lines({"R1": 0.9, "C1": 0.1}, 1)[0]


def test_no_track_record_of_few_visits() -> None:
    assert track_record(honest(19, 2)) is None
    assert track_record([]) is None


def test_few_visits_are_not_judged() -> None:
    found = calibration_of(honest(5, 3))
    assert found.recalibrated is None
    assert found.as_called.worst() is None
    assert any("too few" in line for line in found.lines())


@pytest.mark.parametrize("shapes", [(0.5, 0.3), (2.0, 57.1), (30.0, 9.0), (1.0, 2e5)])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_beta_quantiles_are_those_of_another_library(shapes: tuple[float, float], share: float) -> None:
    other = float(scipy_stats.beta.ppf(share, *shapes))
    assert beta_quantile(share, *shapes) == pytest.approx(other, rel=1e-7, abs=1e-12)
