"""Priors: exact small cases, and the masses against listing every set."""

from itertools import combinations, product

import numpy as np
import pytest

from kilter.circuit.board import Board
from kilter.diagnose.priors import label_ratio, priors, priors_of
from kilter.diagnose.settings import setting
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of
from kilter.records.history import Label, Seen
from kilter.records.part import Part

SHARES = {("A", "open"): 0.02, ("A", "short"): 0.01, ("B", "open"): 0.05, ("C", "dead"): 0.1, ("D", "dead"): 0.001}


def every_set(shares):
    parts = sorted({part for part, _ in shares})
    for size in range(len(parts) + 1):
        for chosen in combinations(parts, size):
            yield from map(frozenset, product(*([f for f in shares if f[0] == part] for part in chosen)))


def test_all_priors_add_up_to_what_is_left_for_the_model():
    odds = priors(SHARES, outside=0.04)
    assert np.exp(odds.of(list(every_set(SHARES)))).sum() == pytest.approx(0.96)
    assert np.exp(odds.log_outside) == pytest.approx(0.04)


def test_mass_by_size_equals_the_sum_over_all_sets():
    odds = priors(SHARES, outside=0.0)
    sets = list(every_set(SHARES))
    weight, size = np.exp(odds.of(sets)), np.array([len(one) for one in sets])
    for most in range(6):
        mass = np.exp(odds.log_mass(most))
        assert mass[:-1] == pytest.approx([weight[size == k].sum() for k in range(most + 1)])
        assert mass[-1] == pytest.approx(weight[size > most].sum(), abs=1e-15)
        assert odds.count(most) == (size <= most).sum()


def test_one_part_has_one_mode():
    assert priors(SHARES).of([frozenset({("A", "open"), ("A", "short")})])[0] == -np.inf


def test_chances_that_add_up_to_one_are_refused():
    with pytest.raises(BadInput, match="A"):
        priors({("A", "open"): 0.6, ("A", "short"): 0.5})


def board(count=50):
    return Board("test", parts={f"C{i}": Part(f"C{i}", "electrolytic", {"1": "a", "2": "b"}) for i in range(count)})


def share_of(odds, part):
    """Probability that the part is faulty when nothing was read."""
    total = sum(np.exp(log) for fault, log in odds.log_odds.items() if fault[0] == part)
    return total / (1 + total)


def test_a_label_of_no_reliability_changes_nothing_and_none_is_believed_fully():
    plain, silent, sure = (
        priors_of(board(), labels=labels) for labels in ((), (Label("C3", "", 0.0),), (Label("C3", "", 1.0),))
    )
    assert share_of(silent, "C3") == pytest.approx(share_of(plain, "C3"))
    assert share_of(plain, "C3") < share_of(sure, "C3") < 1.0
    assert share_of(sure, "C4") == pytest.approx(share_of(plain, "C4"))


@pytest.mark.parametrize("reliability", [0.1, 0.3, 0.6, 0.85])
def test_label_ratio_is_bayes_rule_for_one_faulty_part_of_many(reliability):
    """Exactly one of N equal parts is faulty; the writer knew with chance r, else named a part at random."""
    count = 40
    right, wrong = reliability + (1 - reliability) / count, (1 - reliability) / count
    assert np.exp(label_ratio(reliability, count)) == pytest.approx(right / wrong)


def test_signs_speak_for_the_modes_that_show_them():
    some = next(mode for mode in modes_of(board().parts["C1"]) if mode.signs)
    sign, chance = next(iter(some.signs.items()))
    plain, seen = priors_of(board()), priors_of(board(), seen=(Seen("C1", sign),))
    gain = seen.log_odds["C1", some.key] - plain.log_odds["C1", some.key]
    assert gain == pytest.approx(np.log(max(chance / setting("sign_when_healthy"), 1.0)))
    clean = priors_of(board(), seen=(Seen("C1", "clean"),))
    assert clean.log_odds["C1", some.key] < plain.log_odds["C1", some.key]


def test_known_good_lowers_and_unknown_parts_are_refused():
    assert share_of(priors_of(board(), known_good=("C2",)), "C2") < 0.05 * share_of(priors_of(board()), "C2")
    with pytest.raises(BadInput, match="C999"):
        priors_of(board(), known_good=("C999",))
