"""
Lives, renewals, spares and replacement against closed forms, published tables and another library.

Weibull and Arrhenius: NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.6.2 and 8.1.5.1 (acceleration from 25 to
125 degC: 133 at 0.5 eV and 17,597 at 1 eV, from memory). Poisson stocks: tables of the distribution. Two levels: the
equations of C. C. Sherbrooke's model worked by hand. Ages of replacement: minimised with another library from the
closed form of the cost.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kilter.measure.errors import OutOfRange
from kilter.measure.gamma import gamma_below
from kilter.planning.display.demand import (
    enough,
    expected_short,
    interval,
    mean_of,
    negative_binomial,
    poisson,
    two_levels,
)
from kilter.planning.display.models import Age, Use, in_use, life_factors, wear_kinds
from kilter.planning.display.renewals import failures, several
from kilter.planning.display.replacement import best_age
from kilter.planning.display.weibull import Law, Wearing, arrhenius_factor, warmer_life


def test_weibull_figures() -> None:
    """Closed forms: mean 1000 Γ(1.5), R = exp(-0.25), B10 = 1000 sqrt(-ln 0.9), hazard 2 · 500 / 1000²."""
    law = Law(1000, 2)
    assert law.mean == pytest.approx(886.227, abs=5e-4)
    assert law.survival(500) == pytest.approx(0.778801, abs=5e-7)
    assert law.age_at(0.1) == pytest.approx(324.593, abs=5e-4)
    assert law.hazard(500) == pytest.approx(0.001)


def test_arrhenius_and_the_rule_of_ten_kelvins() -> None:
    assert arrhenius_factor(25, 125, 0.5) == pytest.approx(133, abs=0.5)
    assert arrhenius_factor(25, 125, 1.0) == pytest.approx(17_597, rel=0.003)
    # 2000 h at 85 degC makes 2000 · 2^4 at 45 degC, by hand
    assert warmer_life(2000, 85, 45, 10) == pytest.approx(32_000)
    # about 0.65 eV between 45 and 65 degC is what doubling by 10 K amounts to
    assert arrhenius_factor(45, 65, 0.65) == pytest.approx(4.0, rel=0.05)


def test_an_electrolytic_lives_as_the_rule_says() -> None:
    """A tenth has failed by 2000 · 2^((85 - 45) / 10) hours when the years do not tick: closed form."""
    kind = wear_kinds()["electrolytic"]
    part = in_use(kind, Use(32_000.0, 0.0, 45.0), Age())
    law, rate, _ = part.laws[0]
    assert law.survival(rate * 1.0) == pytest.approx(0.9)


@pytest.mark.parametrize(("mean", "stocks"), [
    (0.1, (0, 0, 1, 1)), (0.2, (0, 1, 1, 2)), (0.5, (1, 1, 2, 3)), (1, (2, 2, 3, 4)), (1.5, (2, 3, 4, 5)),
    (2, (3, 4, 5, 6)), (3, (4, 5, 6, 8)), (4, (6, 7, 8, 9)), (5, (7, 8, 9, 11)), (8, (10, 12, 13, 15)),
    (10, (13, 14, 15, 18)), (20, (24, 26, 28, 31)),
])  # fmt: skip
def test_poisson_stocks(mean: float, stocks: tuple[int, ...]) -> None:
    assert tuple(enough(poisson(mean), share) for share in (0.8, 0.9, 0.95, 0.99)) == stocks


@pytest.mark.parametrize(("most", "mean", "told"), [
    (1, 0.5, 0.909796), (2, 1.0, 0.919699), (4, 2.0, 0.947347), (8, 5.0, 0.931906),
])  # fmt: skip
def test_poisson_sums(most: int, mean: float, told: float) -> None:
    assert poisson(mean)[: most + 1].sum() == pytest.approx(told, abs=5e-7)


def test_expected_shortage_is_the_closed_form() -> None:
    """EBO(s) = m - s + sum of (s - x) P(x): 1, 0.367879, ... for m = 1; 2.5, 1.582085, ... for 2.5."""
    one = [expected_short(poisson(1.0), stock) for stock in range(5)]
    assert one == pytest.approx([1, 0.367879, 0.103638, 0.023337, 0.004349], abs=5e-7)
    other = [expected_short(poisson(2.5), stock) for stock in range(5)]
    assert other == pytest.approx([2.5, 1.582085, 0.869382, 0.413196, 0.170772], abs=5e-7)


@pytest.mark.parametrize(("store", "short", "delay", "pipes"), [
    (0, 0.3, 0.5, (0.242, 0.121)), (1, 0.040818, 0.06803, (0.069212, 0.034606)),
    (2, 0.003882, 0.00647, (0.044588, 0.022294)),
])  # fmt: skip
def test_two_levels(store: int, short: float, delay: float, pipes: tuple[float, float]) -> None:
    found = two_levels([0.5, 0.25], [0, 0], store, fetch=0.1, buy=0.5, mended_here=0.2, mending=0.02)
    assert found.store_short == pytest.approx(short, abs=6e-7)
    assert found.delay == pytest.approx(delay, abs=6e-6)
    assert found.pipelines == pytest.approx(pipes, abs=6e-7)
    assert found.short == pytest.approx(pipes, abs=6e-7)  # nothing on the shelves: all that is on its way is missing


def test_pooling() -> None:
    """Four shelves of two for a mean of one each last with 0.9197 to the fourth; eight together with 0.9786."""
    assert poisson(1.0)[:3].sum() ** 4 == pytest.approx(0.7155, abs=5e-5)
    assert poisson(4.0)[:9].sum() == pytest.approx(0.9786, abs=5e-5)


@pytest.mark.parametrize(("shape", "exposure", "years"), [(0.5, 1.0, 5.0), (2.0, 4.0, 4.0), (30.0, 10.0, 2.0)])
def test_negative_binomial_is_that_of_another_library(shape: float, exposure: float, years: float) -> None:
    stats = pytest.importorskip("scipy.stats")
    found = negative_binomial(shape, exposure, years)
    other = stats.nbinom.pmf(np.arange(len(found)), shape, exposure / (exposure + years))
    assert found == pytest.approx(other, abs=1e-9)
    assert mean_of(found) == pytest.approx(shape * years / exposure, rel=1e-6)


@pytest.mark.parametrize("mean", [0.01, 1.0, 8.0])
def test_renewals_by_chance_are_poisson(mean: float) -> None:
    found = failures(lambda t: np.exp(-mean * t / 5), lambda t: np.exp(-mean * t / 5), 5.0)
    other = poisson(mean)[: len(found)]
    assert found[: len(other)] == pytest.approx(other, abs=2e-5)


@pytest.mark.parametrize("years", [2.0, 10.0])
def test_renewals_of_two_stages(years: float) -> None:
    """Lives that are sums of two even stages: n failures by t are 2 n stages, a gamma distribution (closed form)."""

    def lives(t: np.ndarray) -> np.ndarray:
        return np.exp(-t) * (1 + t)

    found = failures(lives, lives, years)
    for n in range(1, 9):
        assert found[n:].sum() == pytest.approx(gamma_below(years, 2 * n), abs=3e-5)
    # mean t/2 - (1 - exp(-2 t)) / 4: the renewal function of this law
    assert mean_of(found) == pytest.approx(years / 2 - (1 - math.exp(-2 * years)) / 4, abs=2e-4)


def test_renewals_of_wearing_parts_by_drawing() -> None:
    """Weibull lives drawn by another library's generator: mean and the chance of none within three standard errors."""
    random = np.random.default_rng(6)
    part = Wearing(((Law(4.0, 3.0), 1.0, 2.0),))
    found = failures(part.survival, lambda t: part.survival(t, new=True), 10.0)
    runs = 20_000
    total = 4.0 * (0.5**3 + random.exponential(size=runs)) ** (1 / 3) - 2.0  # alive at 2, by the inverse of the law
    count = np.zeros(runs)
    while (total < 10).any():
        count += total < 10
        total += np.where(total < 10, 4.0 * random.weibull(3.0, runs), 0)
    assert mean_of(found) == pytest.approx(count.mean(), abs=3 * count.std() / math.sqrt(runs))
    assert found[0] == pytest.approx(np.mean(count == 0), abs=0.004)


def test_places_add_up_like_dice() -> None:
    assert several(np.array([0.5, 0.5]), 3) == pytest.approx([1 / 8, 3 / 8, 3 / 8, 1 / 8])
    assert mean_of(several(poisson(0.3), 7)) == pytest.approx(2.1, rel=1e-9)


@pytest.mark.parametrize(("shape", "failure", "age", "cost", "waiting"), [
    (2, 5, 0.5105, 4.0852, 5.6419), (3, 5, 0.5025, 3.0314, 5.5992), (2, 10, 0.3365, 6.0561, 11.2838),
])  # fmt: skip
def test_ages_of_replacement(shape: float, failure: float, age: float, cost: float, waiting: float) -> None:
    """Planned cost 1, life 1; minimised from a grid with another library."""
    found = best_age(lambda t: np.exp(-(t**shape)), 1.0, failure)
    assert found.age == pytest.approx(age, abs=3e-4)
    assert found.cost == pytest.approx(cost, abs=6e-5)
    assert found.waiting == pytest.approx(waiting, abs=6e-5)


def test_the_best_age_is_the_one_a_general_minimiser_finds() -> None:
    scipy = pytest.importorskip("scipy")
    integrate, optimize = pytest.importorskip("scipy.integrate"), pytest.importorskip("scipy.optimize")
    assert scipy

    def lives(t: np.ndarray) -> np.ndarray:
        return np.exp(-((t / 9.0) ** 2.5) - (t / 30.0) ** 4)

    def cost(age: float) -> float:
        return float((20 * lives(age) + 90 * (1 - lives(age))) / integrate.quad(lives, 0, age)[0])

    other = optimize.minimize_scalar(cost, bounds=(1.0, 12.0), method="bounded", options={"xatol": 1e-8})
    found = best_age(lives, 20.0, 90.0)
    assert found.cost == pytest.approx(other.fun, rel=1e-6)
    assert found.age == pytest.approx(other.x, abs=0.01)


def test_never_early_without_wear_or_where_planned_costs_as_much() -> None:
    """Failures by chance: a new part is no better. Heritage may make a planned renewal dearer than the failure."""
    assert math.isinf(best_age(lambda t: np.exp(-t), 1.0, 5.0).age)
    assert math.isinf(best_age(lambda t: np.exp(-(t**3)), 5.0, 5.0).age)
    assert math.isinf(best_age(lambda t: np.exp(-(t**3)), 9.0, 5.0).age)


def test_ignorance_of_a_life_is_lognormal() -> None:
    """Two times in three within the factor: the mean of the logarithms is 0, their standard deviation ln(spread)."""
    factors, weights = life_factors(2.0)
    assert weights @ np.log(factors) == pytest.approx(0.0, abs=1e-12)
    assert weights @ np.log(factors) ** 2 == pytest.approx(math.log(2) ** 2)


def test_intervals_hold_what_they_say() -> None:
    low, high = interval(poisson(6.0), 0.9)
    assert (low, high) == (2, 10)  # P(N < 2) = 0.017, P(N > 10) = 0.043: tables of the distribution


@pytest.mark.parametrize("call", [
    lambda: Law(0, 2), lambda: warmer_life(2000, 85, 500, 10), lambda: best_age(lambda t: np.exp(-t), 0, 1),
    lambda: poisson(-1), lambda: poisson(math.nan),
])  # fmt: skip
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(OutOfRange):
        call()  # type: ignore[operator]
