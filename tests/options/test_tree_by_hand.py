"""
Decision trees of cures solved by hand: every number below follows from the text beside it, with pencil and paper.

Throughout, leaving a dead object loses 600 and a recheck after a cure that did not help 15.
"""

from __future__ import annotations

import numpy as np
import pytest

from kilter.planning.options.catalogue import together
from kilter.planning.options.cure import Cure
from kilter.planning.options.tree import SOMETHING_ELSE, Faults, Tree

A, B = ("A", "dead"), ("B", "dead")
ONLY_A, ONLY_B, BOTH, WORKS = frozenset({A}), frozenset({B}), frozenset({A, B}), frozenset()


def cure(key: str, minutes: float, **removes: float) -> Cure:
    """A cure that costs just its minutes."""
    return Cure(key, tuple(removes), key, {(part, "dead"): odds for part, odds in removes.items()}, minutes, 0, "fully",
                0.0, 0.0)  # fmt: skip


def tree(beliefs: dict[Faults, float], *cures: Cure, depth: int = 3) -> Tree:
    return Tree(beliefs, cures, 600.0, 15.0, depth, 10)


def test_one_suspect_and_a_sure_cure() -> None:
    """A is faulty with 0.8, else something that nothing here mends. 100 + 0.2 x (15 + 600) = 223; leaving 600."""
    one = tree({ONLY_A: 0.8, SOMETHING_ELSE: 0.2}, cure("replace", 100, A=1.0))
    assert one.act(one.belief) == pytest.approx([223.0])
    assert one.leave(one.belief) == pytest.approx(600.0)
    assert one.best(one.belief) == pytest.approx(223.0)


def test_a_cure_that_helps_half_the_time() -> None:
    """It works after 0.8 x 0.5 = 0.4. 100 + 0.6 x 615 = 469."""
    one = tree({ONLY_A: 0.8, SOMETHING_ELSE: 0.2}, cure("mend", 100, A=0.5))
    assert one.act(one.belief) == pytest.approx([469.0])
    assert one.fixed(one.belief, 0) == pytest.approx(0.4)


def test_two_suspects_the_likelier_first() -> None:
    """A 0.6 for 50, B 0.4 for 80. A first: 50 + 0.4 x (15 + 80) = 88. B first: 80 + 0.6 x (15 + 50) = 119."""
    one = tree({ONLY_A: 0.6, ONLY_B: 0.4}, cure("a", 50, A=1.0), cure("b", 80, B=1.0))
    assert one.act(one.belief) == pytest.approx([88.0, 119.0])


def test_two_suspects_the_cheaper_first_though_less_likely() -> None:
    """A 0.7 for 200, B 0.3 for 20. A first: 200 + 0.3 x 35 = 210.5. B first: 20 + 0.7 x 215 = 170.5."""
    one = tree({ONLY_A: 0.7, ONLY_B: 0.3}, cure("a", 200, A=1.0), cure("b", 20, B=1.0))
    assert one.act(one.belief) == pytest.approx([210.5, 170.5])
    assert one.best(one.belief) == pytest.approx(170.5)


def test_a_gentle_cure_before_a_strong_one() -> None:
    """
    A is faulty. Cleaning costs 20 and helps half the time, replacing costs 120 and helps with 0.95.

    Replacing as the last: 120 + 0.05 x 615 = 150.75, so cleaning first: 20 + 0.5 x (15 + 150.75) = 102.875.
    Cleaning as the last: 20 + 0.5 x 615 = 327.5, so replacing first: 120 + 0.05 x (15 + 327.5) = 137.125.
    """
    one = tree({ONLY_A: 1.0}, cure("clean", 20, A=0.5), cure("replace", 120, A=0.95))
    assert one.act(one.belief) == pytest.approx([102.875, 137.125])


def test_leaving_is_best() -> None:
    """A is faulty with 0.1 only: 300 + 0.9 x 615 = 853.5 against 600."""
    one = tree({ONLY_A: 0.1, SOMETHING_ELSE: 0.9}, cure("replace", 300, A=1.0))
    assert one.act(one.belief) == pytest.approx([853.5])
    assert one.best(one.belief) == pytest.approx(600.0)


def test_perhaps_nothing_is_wrong() -> None:
    """Half the chance that it works: leaving 300, replacing A 50 and nothing more, as it works then either way."""
    one = tree({WORKS: 0.5, ONLY_A: 0.5}, cure("a", 50, A=1.0))
    assert one.leave(one.belief) == pytest.approx(300.0)
    assert one.act(one.belief) == pytest.approx([50.0])


def test_two_faults_at_once() -> None:
    """
    A and B are both faulty. One after the other 50 + 15 + 80 = 145; in one go 130.

    With depth 1 nothing but the joint cure helps: a single one costs its own and 615.
    """
    a, b = cure("a", 50, A=1.0), cure("b", 80, B=1.0)
    one = tree({BOTH: 1.0}, a, b, together([a, b]))
    assert one.act(one.belief) == pytest.approx([145.0, 145.0, 130.0])
    short = tree({BOTH: 1.0}, a, b, together([a, b]), depth=1)
    assert short.act(short.belief) == pytest.approx([665.0, 695.0, 130.0])


def test_two_faults_of_which_each_cure_may_fail() -> None:
    """
    Both faulty, A mended with 0.5 for 10, B with 1 for 20, two cures at most.

    A first: 10, it never works at once: + 15. Then B: 20, works if A was mended: + 0.5 x 615 = 352.5.
    B first the same: 20 + 15 + 10 + 0.5 x 615. Leaving after the first would be 600 more.
    """
    one = tree({BOTH: 1.0}, cure("a", 10, A=0.5), cure("b", 20, B=1.0), depth=2)
    assert one.act(one.belief) == pytest.approx([352.5, 352.5])


def test_a_perfect_test_first() -> None:
    """A 0.7 for 200, B 0.3 for 20; told apart, each gets its own cure: 0.7 x 200 + 0.3 x 20 = 146, against 170.5."""
    one = tree({ONLY_A: 0.7, ONLY_B: 0.3}, cure("a", 200, A=1.0), cure("b", 20, B=1.0))
    shares = np.array([[1.0, 0.0] if A in state else [0.0, 1.0] for state in one.states])
    assert one.after_test(one.belief, shares) == pytest.approx(146.0)


def test_a_test_that_errs() -> None:
    """
    A 0.6 for 50, B 0.4 for 80; the test is right nine times in ten.

    It says 'A' with 0.54 + 0.04: 50 each, and 95 more where it erred. It says 'B' with 0.36 + 0.06: 80 each, and 65
    more where it erred (A first would be 50 + 95 x 0.36 / 0.42 = 131, dearer than 80 + 65 x 0.06 / 0.42 = 89).
    0.58 x 50 + 0.04 x 95 + 0.42 x 80 + 0.06 x 65 = 70.3, against 88 without.
    """
    one = tree({ONLY_A: 0.6, ONLY_B: 0.4}, cure("a", 50, A=1.0), cure("b", 80, B=1.0))
    shares = np.array([[0.9, 0.1] if A in state else [0.1, 0.9] for state in one.states])
    assert one.after_test(one.belief, shares) == pytest.approx(70.3)


def test_a_test_that_tells_nothing_saves_nothing() -> None:
    one = tree({ONLY_A: 0.6, ONLY_B: 0.4}, cure("a", 50, A=1.0), cure("b", 80, B=1.0))
    assert one.after_test(one.belief, np.full((len(one.states), 3), 1 / 3)) == pytest.approx(one.best(one.belief))
