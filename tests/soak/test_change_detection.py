"""
Cumulative sums against published tables and worked figures.

Run lengths: J. M. Lucas and R. B. Crosier (1982), table 1 (h = 4), and D. C. Montgomery's textbook (h = 5), both with
k = 0.5 and two-sided, the first as cited in the manual of a general statistics library, the second from memory; L. C.
Vance (1986) and K.-H. Waldmann (1986), one-sided, as cited there. Worked series: NIST/SEMATECH e-Handbook of
Statistical Methods, 6.3.2.3.
"""

from __future__ import annotations

import numpy as np
import pytest

from kilter.measure.errors import OutOfRange
from kilter.planning.soak.cusum import one_sided_run_length, run_length, sums, threshold
from kilter.planning.soak.self_starting import FIRST, normal_of_t, standardised

SHIFTS = (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4)
LUCAS_CROSIER = (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71)
MONTGOMERY = (465, 139, 38.0, 17.0, 10.4, 5.75, 4.01, 3.11, 2.57, 2.01)
NIST = (
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
)  # fmt: skip
NIST_ABOVE = (0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04)
NIST_BELOW = (0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0)


@pytest.mark.parametrize(("h", "printed"), [(4.0, LUCAS_CROSIER), (5.0, MONTGOMERY)])
def test_run_lengths_are_the_published_ones(h: float, printed: tuple[float, ...]) -> None:
    for shift, told in zip(SHIFTS, printed, strict=True):
        assert run_length(0.5, h, shift) == pytest.approx(told, rel=0.005), shift


def test_one_sided_run_lengths_are_the_published_ones() -> None:
    vance = {-0.25: 2071.51, -0.125: 400.28, 0.0: 124.66, 0.125: 59.30, 0.25: 36.71, 0.5: 20.37, 0.75: 14.06, 1: 10.75}
    for shift, told in vance.items():
        assert one_sided_run_length(0.0, 10.0, shift) == pytest.approx(told, rel=4e-4)
    for shift, told in {-0.5: 1963.0, 0.0: 117.4, 0.5: 17.35}.items():  # Waldmann
        assert one_sided_run_length(0.5, 3.0, shift) == pytest.approx(told, rel=0.002)
    assert run_length(0.6, 3.0, -0.2) == pytest.approx(65.4, rel=0.002)  # Waldmann, table 6


def test_the_worked_series_of_the_handbook() -> None:
    """Target 325, sigma of a mean 0.635, k = 0.3175, h = 4.1959; the first signal is the fourteenth sample."""
    found = sums((np.array(NIST) - 325) / 0.635, 0.3175 / 0.635, 4.1959 / 0.635)
    assert 0.635 * found.above == pytest.approx(NIST_ABOVE, abs=0.0051)
    assert 0.635 * found.below == pytest.approx(NIST_BELOW, abs=0.0051)
    assert (found.alarm, found.upwards, found.began) == (13, True, 12)


@pytest.mark.parametrize("wanted", [100.0, 465.44, 5000.0])
def test_a_threshold_gives_back_its_run_length(wanted: float) -> None:
    assert run_length(0.5, threshold(0.5, wanted)) == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(("h", "shift", "told"), [(4.0, 0.0, 168.0), (4.0, 1.0, 8.38), (5.0, 1.0, 10.4)])
def test_measured_run_lengths_are_within_a_tenth_of_the_tables(h: float, shift: float, told: float) -> None:
    """The sums run on drawn numbers; the limit of 10 % leaves four standard errors or more of the simulation."""
    random = np.random.default_rng(7)
    length = 2500 if shift == 0 else 120
    runs = [sums(random.normal(shift, 1, length), 0.5, h).alarm for _ in range(3000 if shift == 0 else 2000)]
    assert None not in runs
    assert np.mean([one + 1 for one in runs if one is not None]) == pytest.approx(told, rel=0.1)


def test_the_self_starting_scheme_keeps_the_run_length_without_a_baseline() -> None:
    """Mean and spread of the log are unknown to it. 15 % is two and a half standard errors of 250 runs."""
    random = np.random.default_rng(11)
    h = threshold(0.5, 60.0)
    runs = []
    for _ in range(250):
        log = random.normal(4.98, 0.013, 400)
        runs.append(sums(standardised(log)[FIRST:], 0.5, h).alarm)
    assert np.mean([400 if one is None else one + 1 for one in runs]) == pytest.approx(60.0, rel=0.15)


def test_standardised_values_are_independent_and_normal() -> None:
    scipy_stats = pytest.importorskip("scipy.stats")
    random = np.random.default_rng(3)
    rows = np.array([standardised(random.normal(9.0, 2.0, 12)) for _ in range(700)])[:, FIRST:]
    assert all(scipy_stats.kstest(column, "norm").pvalue > 1e-4 for column in rows.T)
    correlation = np.corrcoef(rows.T) - np.eye(rows.shape[1])
    assert np.abs(correlation).max() < 4.5 / np.sqrt(len(rows))


@pytest.mark.parametrize("dof", [1, 2, 5, 30, 99, 100, 400])
@pytest.mark.parametrize("t", [-9.0, -2.0, -0.1, 0.0, 0.7, 4.0])
def test_normal_of_t_is_that_of_another_library(t: float, dof: int) -> None:
    scipy_stats = pytest.importorskip("scipy.stats")
    other = np.sign(t) * scipy_stats.norm.isf(scipy_stats.t.sf(abs(t), dof))
    assert normal_of_t(t, dof) == pytest.approx(np.clip(other, -8, 8), abs=1e-3)


@pytest.mark.parametrize(("k", "h"), [(-0.1, 4.0), (0.5, 0.0), (0.5, float("nan"))])
def test_what_is_no_scheme_is_refused(k: float, h: float) -> None:
    with pytest.raises(OutOfRange):
        one_sided_run_length(k, h)
    with pytest.raises(OutOfRange):
        threshold(0.5, 1.0)
