"""
Learned odds against closed forms and another library.

Conjugate updating: mean (a + failures) / (a / p + parts) by hand; its interval from scipy's beta distribution; the same
mean from the gamma-Poisson pair; the Dirichlet mean of modes by hand. Where no parts are counted the handbook stands.
"""

from __future__ import annotations

import numpy as np
import pytest

from kilter.circuit.board import Board
from kilter.diagnose.learned_odds import Weighted, changed_by, learned, learned_odds, number
from kilter.diagnose.learned_odds_counts import Count, band_of, bands, checked, family_of, family_shares
from kilter.diagnose.priors import priors_of
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of, part_kind, part_kinds
from kilter.records.part import Part

scipy_stats = pytest.importorskip("scipy.stats")

P = part_kind("electrolytic").odds
A = number("prior_failures")


def count(parts: int, band: str = "", **failures: int) -> Count:
    return Count("electrolytic", band, parts, failures)


def own(*counts: Count) -> list[Weighted]:
    return [Weighted(one) for one in counts]


def some_board() -> Board:
    parts = [
        Part("C1", "electrolytic", {"1": "a", "2": "0"}),
        Part("R1", "resistor", {"1": "a", "2": "b"}, drifts=(0.5, 1.4)),
        Part("U1", "logic", {"vcc": "v", "gnd": "0", "1": "a", "2": "b", "3": "c"}, value="74LS00"),
        Part("U2", "logic", {}),
    ]
    return Board("test", {part.ref: part for part in parts})


def test_posterior_mean_and_interval_are_those_of_the_beta_distribution() -> None:
    found = learned("electrolytic", own(count(400, leak=9, unknown=21)))
    law = scipy_stats.beta(A + 30, A / P + 400 - A - 30)
    assert found.odds == pytest.approx(law.mean(), rel=1e-12)
    assert (found.low, found.high) == pytest.approx(law.ppf([0.05, 0.95]), rel=1e-9)
    gamma_poisson = P * (A + 30) / (A + 400 * P)
    assert found.odds == pytest.approx(gamma_poisson, rel=1e-12)


def test_another_collection_weighs_as_much_as_its_trust() -> None:
    counts = [Weighted(count(100, leak=4)), Weighted(count(200, leak=40), 0.25, "other")]
    found = learned("electrolytic", counts)
    assert found.odds == pytest.approx((A + 4 + 10) / (A / P + 100 + 50), rel=1e-12)
    assert learned("electrolytic", [Weighted(count(200, leak=40), 0.0, "other")]).odds == pytest.approx(P)


def test_modes_are_the_dirichlet_mean_and_unknown_ones_say_nothing() -> None:
    shares, strength = family_shares(part_kind("electrolytic")), number("prior_modes")
    found = learned("electrolytic", own(count(500, leak=30, unknown=12))).modes
    assert found["leak"] == pytest.approx((strength * shares["leak"] + 30) / (strength + 30), rel=1e-12)
    assert sum(found.values()) == pytest.approx(1.0)


def test_an_age_of_its_own_and_what_others_lend_it() -> None:
    counts = own(count(1000, "20-30", leak=35), count(100, "50-70", leak=30))
    hits, whole = A + 35, A / P + 1000
    carried = 1 / (1 / hits + 1 / number("age_failures"))
    expected = (carried + 30) / (carried * whole / hits + 100)
    assert learned("electrolytic", counts, "50-70").odds == pytest.approx(expected, rel=1e-12)
    assert learned("electrolytic", counts, "50-70").odds > learned("electrolytic", counts).odds
    assert learned("electrolytic", counts, "50-70").odds > 2 * learned("electrolytic", counts, "20-30").odds


def test_many_counts_find_the_true_rate() -> None:
    random = np.random.default_rng(4)
    found = learned("electrolytic", own(count(50_000, leak=int(random.binomial(50_000, 0.11)))))
    assert found.odds == pytest.approx(0.11, abs=0.005)  # over three standard errors of 0.0014
    assert found.low < found.odds < found.high


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Rates drawn from the prior itself: a Bayesian interval of 90 % then covers 90 % by construction."""
    random = np.random.default_rng(5)
    rates = random.beta(A, A / P - A, size=400)
    inside = 0
    for rate in rates:
        found = learned("electrolytic", own(count(300, leak=int(random.binomial(300, rate)))))
        inside += found.low <= rate <= found.high
    assert 0.85 < inside / 400 < 0.95  # 90 % with over three standard errors of 1.5 points


@pytest.mark.parametrize("key", sorted(part_kinds()))
def test_without_counts_the_handbook_stands(key: str) -> None:
    found = learned(key, [], "40-50")
    assert found.odds == pytest.approx(part_kind(key).odds, rel=1e-12)
    assert found.modes == pytest.approx(found.handbook_modes)
    assert sum(found.modes.values()) == pytest.approx(1.0)


def test_every_fault_of_a_board_keeps_its_odds_without_counts() -> None:
    board = some_board()
    found = learned_odds(board, [], 45)
    expected = {(ref, mode.key): mode.odds for ref, part in board.parts.items() for mode in modes_of(part)}
    assert found == pytest.approx(expected, rel=1e-12)


def test_a_board_gets_the_odds_of_its_kinds() -> None:
    board, counts = some_board(), own(count(400, leak=60))
    found, about = learned_odds(board, counts), learned("electrolytic", counts)
    of_c1 = {mode: odds for (ref, mode), odds in found.items() if ref == "C1"}
    assert sum(of_c1.values()) == pytest.approx(about.odds, rel=1e-12)
    assert of_c1["leak"] == pytest.approx(about.odds * about.modes["leak"], rel=1e-12)
    moved = priors_of(board, odds=found, outside=0.0).log_odds["C1", "leak"]
    assert moved == pytest.approx(np.log(of_c1["leak"] / (1 - about.odds)), rel=1e-12)
    assert priors_of(board, odds=found).log_odds["R1", "open"] == pytest.approx(priors_of(board).log_odds["R1", "open"])


def test_who_changed_what() -> None:
    counts = [Weighted(count(300, leak=30)), Weighted(count(300, leak=60), 0.5, "k1"), Weighted(count(0), 0.5, "k2")]
    found = changed_by("electrolytic", counts)
    assert set(found) == {"", "k1"}
    whole = learned("electrolytic", counts).odds
    assert found["k1"] == pytest.approx(whole / learned("electrolytic", counts[:1]).odds)
    assert changed_by("resistor", counts) == {}


def test_families_of_modes() -> None:
    board = some_board()
    assert family_of(board.parts["R1"], "value x1.4") == "high"
    assert family_of(board.parts["R1"], "value x0.5") == "low"
    assert family_of(board.parts["U2"], "contact") == "open *"
    for part in board.parts.values():
        shares = family_shares(part_kind(part.kind))
        assert {family_of(part, mode.key) for mode in modes_of(part)} <= set(shares)
    with pytest.raises(BadInput, match="the mode 'melted'"):
        family_of(board.parts["R1"], "melted")


def test_age_bands_meet_without_gap() -> None:
    assert [band_of(years) for years in (0, 19.9, 20, 69, 70, 500)] == [
        bands()[0],
        bands()[0],
        "20-30",
        "50-70",
        "70+",
        "70+",
    ]
    with pytest.raises(BadInput, match="-3 years"):
        band_of(-3)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (Count("electrolytic", "", 3, {"leak": 4}), "4 failures among 3 parts"),
        (Count("electrolytic", "", -3, {}), "below zero"),
        (Count("electrolytic", "12-13", 3, {}), "age band '12-13'"),
        (Count("electrolytic", "", 3, {"tired": 1}), "mode 'tired'"),
        (Count("flux", "", 3, {}), "part kind 'flux'"),
    ],
)
def test_counts_that_cannot_be(wrong: Count, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        checked(wrong, "Cannot count")
