"""The weigher: closed forms, what unknown and 'not in the model' do, and invariances."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from boards import number_predict, number_read, number_test, word_predict, word_read
from kilter.diagnose.enumerate import Limits, search
from kilter.diagnose.evidence import Evidence
from kilter.diagnose.priors import priors
from kilter.diagnose.settings import setting
from kilter.diagnose.weigh import log_outside, weigh
from kilter.measure.errors import BadInput

R1, C1, Q1 = ("R1", "open"), ("C1", "short"), ("Q1", "open")
NONE = frozenset()
MEANS = {
    NONE: [5.0, 3.0, 1.0],
    frozenset({R1}): [0.0, 3.0, 1.0],
    frozenset({C1}): [5.0, 0.0, 1.0],
    frozenset({Q1}): [5.0, 3.0, 4.0],
}
POINTS = ("a", "b", "c")
SINGLES = [NONE, frozenset({R1}), frozenset({C1}), frozenset({Q1})]


def test_without_draws_readings_are_independent_and_exact():
    """(1 - e) Normal + e / width for each reading, multiplied; scipy's normal density."""
    evidence = [number_read("a", 4.9), number_read("b", 0.3)]
    found = weigh(number_predict(POINTS, MEANS)(SINGLES), evidence)
    share, sd = setting("outlier"), np.sqrt(0.1**2 + evidence[0].noise ** 2)
    for h, one in enumerate(SINGLES):
        densities = [
            (1 - share) * norm.pdf(value, MEANS[one][t], sd) + share / 20.0 for t, value in enumerate((4.9, 0.3))
        ]
        assert found.log_likelihood[h] == pytest.approx(np.log(densities).sum(), abs=1e-10)


def test_readings_that_move_together_are_weighed_together():
    """Two points that share one tolerance: scipy's bivariate normal, with outliers switched off by a tiny share."""
    shift = np.random.default_rng(0).normal(0, 0.3, 4000)
    draws = np.stack([shift, shift, 0 * shift], axis=1)
    evidence = [number_read("a", 5.6, outlier=1e-12), number_read("b", 3.6, outlier=1e-12)]
    found = weigh(number_predict(POINTS, MEANS, draws=draws)([NONE]), evidence)
    covariance = np.cov(draws[:, :2].T) * (4000 / 4001) + np.eye(2) * evidence[0].noise ** 2
    covariance[range(2), range(2)] = draws[:, :2].var(axis=0, ddof=1) + evidence[0].noise ** 2
    expected = multivariate_normal([5.0, 3.0], covariance).logpdf([5.6, 3.6])
    assert found.log_likelihood[0] == pytest.approx(expected, abs=1e-6)
    apart = weigh(number_predict(POINTS, MEANS, draws=draws)([NONE]), [number_read("a", 5.6), number_read("b", 2.4)])
    assert apart.log_likelihood[0] < found.log_likelihood[0] - 3


@pytest.mark.parametrize("draws", [None, np.random.default_rng(1).normal(0, 0.1, (50, 3))])
def test_unknown_predictions_neither_blame_nor_clear(draws):
    """A hypothesis that predicts nothing at a point gives any reading there the density one over the width."""
    predict = number_predict(POINTS, MEANS, draws=draws, unknown={frozenset({R1}): np.array([1.0, 0.0, 0.0])})
    for value in (0.0, 5.0, 9.0):
        both = weigh(predict([frozenset({R1})]), [number_read("a", value), number_read("b", 3.0)])
        alone = weigh(predict([frozenset({R1})]), [number_read("b", 3.0)])
        assert both.log_likelihood[0] - alone.log_likelihood[0] == pytest.approx(-np.log(20.0), abs=1e-9)


def test_a_missing_mean_counts_as_unknown_and_never_leaks():
    means = MEANS | {frozenset({R1}): [np.nan, 3.0, 1.0]}
    for draws in (None, np.random.default_rng(1).normal(0, 0.1, (50, 3))):
        found = weigh(
            number_predict(POINTS, means, draws=draws)(SINGLES), [number_read("a", 5.0), number_read("c", 1.0)]
        )
        for table in (found.log_likelihood, found.gross, found.log_peak, found.log_single):
            assert np.isfinite(table).all()
        assert found.log_single[1, 0] == pytest.approx(-np.log(20.0))


def test_one_slipped_probe_does_not_overturn_four_good_readings():
    points = ("a", "b", "c", "d", "e")
    fault = frozenset({R1})
    means = {NONE: [5, 5, 5, 5, 5], fault: [0, 1, 2, 3, 5]}
    evidence = [number_read(point, value) for point, value in zip(points, (0.0, 1.0, 2.0, 3.0, 12.0), strict=True)]
    found = search(number_predict(points, means), priors({R1: 0.01}), evidence)
    assert found.parts()["R1"] > 0.99
    assert found.gross[0] == pytest.approx([0, 0, 0, 0, 1], abs=0.01)


def test_not_in_the_model_wins_when_nothing_explains_the_readings():
    points = ("a", "b", "c", "d", "e", "f")
    means = {NONE: [5.0] * 6, frozenset({R1}): [0.0, 5, 5, 5, 5, 5]}
    odd = [number_read(point, value) for point, value in zip(points, (2.2, 7.1, 8.3, 1.4, 6.6, 9.0), strict=True)]
    found = search(number_predict(points, means), priors({R1: 0.01}), odd)
    assert found.not_in_model > 0.9
    good = [number_read(point, 5.0) for point in points]
    assert search(number_predict(points, means), priors({R1: 0.01}), good).not_in_model < 0.03


def test_not_in_the_model_is_a_mixture_of_healthy_and_anything():
    evidence = [number_read("a", 5.0, outlier=0.0), word_read("w", "low")]
    predictions = number_predict(POINTS, MEANS)([NONE]) + word_predict(("w",), ("low", "high"), lambda *_: (0.9, 0.1))(
        [NONE]
    )
    total, each = log_outside(predictions, evidence)
    share, sd = setting("healthy_like"), np.hypot(0.1, evidence[0].noise)
    assert each[0] == pytest.approx(np.log(share * norm.pdf(0, 0, sd) + (1 - share) / 20))
    assert each[1] == pytest.approx(np.log(share * 0.9 + (1 - share) / 2))
    assert total == pytest.approx(each.sum())


readings = st.lists(st.tuples(st.sampled_from(POINTS), st.floats(-2, 12)), min_size=1, max_size=6)


@settings(max_examples=40, deadline=None)
@given(values=readings, seed=st.integers(0, 1000), together=st.booleans())
def test_order_of_evidence_is_irrelevant_and_weights_add_up(values, seed, together):
    draws = np.random.default_rng(seed).normal(0, 0.1, (20, 3)) if together else None
    predict = number_predict(POINTS, MEANS, draws=draws)
    evidence = [number_read(point, value) for point, value in values]
    odds = priors({R1: 0.02, C1: 0.05, Q1: 0.01})
    here = search(predict, odds, evidence)
    there = search(predict, odds, evidence[::-1])
    assert here.weights.sum() + here.not_in_model == pytest.approx(1.0, abs=1e-9)
    for part, share in here.parts().items():
        assert there.parts()[part] == pytest.approx(share, abs=1e-6)
    assert there.not_in_model == pytest.approx(here.not_in_model, abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(values=readings)
def test_names_of_parts_do_not_matter(values):
    swap = {"R1": "Z9", "C1": "A0", "Q1": "M5"}
    renamed = {frozenset((swap[p], m) for p, m in one): means for one, means in MEANS.items()}
    evidence = [number_read(point, value) for point, value in values]
    shares = {R1: 0.02, C1: 0.05, Q1: 0.01}
    here = search(number_predict(POINTS, MEANS), priors(shares), evidence).parts()
    there = search(
        number_predict(POINTS, renamed), priors({(swap[p], m): share for (p, m), share in shares.items()}), evidence
    ).parts()
    for part, share in here.items():
        assert there[swap[part]] == pytest.approx(share, abs=1e-9)


def test_a_renewed_part_is_no_longer_faulty_but_its_past_still_explains():
    """Before the repair 'a' reads 0 V, after it 5 V: R1 was open, and nothing is wrong now."""
    before = number_predict(POINTS, MEANS)
    after = number_predict(POINTS, {one: MEANS[one - {R1}] for one in MEANS}, state="after")

    def predict(hypotheses):
        return [*before(hypotheses), *after(hypotheses)]

    evidence = [number_read("a", 0.0), number_read("a", 5.0, state="after"), number_read("b", 3.0, state="after")]
    odds = priors({R1: 0.02, C1: 0.02, Q1: 0.02})
    found = search(predict, odds, evidence, renewed=frozenset({"R1"}))
    assert "R1" not in found.parts()
    assert found.healthy > 0.9
    assert found.hypotheses[0] == frozenset({R1})


@pytest.mark.parametrize(
    "bad",
    [
        number_read("nowhere", 1.0),
        number_read("a", float("nan")),
        number_read("a", 1.0, width=0.0),
        Evidence(number_test("w"), word="sideways"),
        word_read("w", "sideways"),
    ],
)
def test_readings_that_cannot_be_weighed_are_refused_in_four_parts(bad):
    predictions = number_predict(POINTS, MEANS)(SINGLES)
    predictions += word_predict(("w",), ("low", "high"), lambda *_: (0.9, 0.1))(SINGLES)
    with pytest.raises(BadInput) as caught:
        weigh(predictions, [bad])
    error = caught.value
    assert all((error.doing, error.found, error.allowed, error.do_next))


def test_search_stops_early_only_when_the_estimate_allows_it():
    """Forty parts, a clear single fault: few pairs are tried, and the share left out is bounded and estimated."""
    faults = [(f"P{i}", "open") for i in range(40)]
    points = tuple(f"t{i}" for i in range(40))
    means = {NONE: [5.0] * 40} | {
        frozenset({f}): [0.0 if j == i else 5.0 for j in range(40)] for i, f in enumerate(faults)
    }
    evidence = [number_read(f"t{i}", 0.0 if i == 7 else 5.0) for i in range(20)]
    limits = Limits(complete_limit=100, work_limit=3000, unvisited_tolerance=0.01)
    found = search(number_predict(points, means), priors(dict.fromkeys(faults, 0.002)), evidence, limits=limits)
    assert found.parts()["P7"] > 0.8
    assert len(found.hypotheses) < 3000
    assert 0.0 <= found.visited_mass <= found.visited_estimate <= 1.0
    assert found.visited_estimate > 0.99
