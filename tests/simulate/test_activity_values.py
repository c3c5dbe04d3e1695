"""
Boards of whole numbers.

The polybox of de Kleer and Williams, Artificial Intelligence 32 (1987) 97-130: three multipliers and two adders,
A = 3, B = 2, C = 2, D = 3, E = 3, so that X = AC = 6, Y = BD = 6, Z = CE = 6, F = X + Y = 12, G = Y + Z = 12.
"""

from graphlib import TopologicalSorter
from itertools import combinations
from random import Random

import numpy as np
import pytest
from activity_boards import ON, block, board, predicted

from kilter.records.test import Test
from kilter.simulate.activity import ActivityPredictor

GIVEN = {"A": 3, "B": 2, "C": 2, "D": 3, "E": 3}
POLYBOX = board(
    *(block(name, "given", numbers={"value": value}) for name, value in GIVEN.items()),
    block("F", "adder", "A1", p="X", q="Y"),
    block("G", "adder", "A2", p="Y", q="Z"),
    block("X", "multiplier", "M1", p="A", q="C"),
    block("Y", "multiplier", "M2", p="B", q="D"),
    block("Z", "multiplier", "M3", p="C", q="E"),
)
ANY = {str(value): 1 / 16 for value in range(16)}


@pytest.mark.parametrize(
    ("faulty", "unknown"),
    [
        ("", ""),
        ("M1", "XF"),
        ("M2", "YFG"),
        ("M3", "ZG"),
        ("A1", "F"),
        ("A2", "G"),
        ("M1 M3", "XZFG"),
        ("A1 M3", "FZG"),
    ],
)
def test_polybox_under_each_hypothesis_by_hand(faulty, unknown):
    faults = [(ref, "wrong") for ref in faulty.split()]
    for point, healthy in {"X": 6, "Y": 6, "Z": 6, "F": 12, "G": 12}.items():
        expected = ANY if point in unknown else {str(healthy): 1.0}
        assert predicted(POLYBOX, point, "value", *faults) == pytest.approx(expected)


def subsets():
    return [frozenset(s) for size in range(6) for s in combinations(["A1", "A2", "M1", "M2", "M3"], size)]


def chances_of(point, value):
    hypotheses = [frozenset((ref, "wrong") for ref in subset) for subset in subsets()]
    answer = ActivityPredictor().predict(POLYBOX, ON, hypotheses, [Test(point, "value", "on")])
    return answer.words[0][1][:, value]


def test_polybox_conflict_and_diagnoses_after_f_alone():
    """F = 10 gives the conflict {A1, M1, M2} and with it the minimal diagnoses {A1}, {M1}, {M2} (the paper)."""
    possible = [subset for subset, chance in zip(subsets(), chances_of("F", 10), strict=True) if chance > 0]
    minimal = {subset for subset in possible if not any(other < subset for other in possible)}
    assert minimal == {frozenset({"A1"}), frozenset({"M1"}), frozenset({"M2"})}


def test_polybox_posterior_after_f_alone():
    """
    Each part wrong with p = 0.01, independently: the three singles are left with 0.3234 each; closed form
    p (1-p)^4 / (1 - (1-p)^3), the chance of one given that at least one of A1, M1, M2 is wrong.
    """
    prior = np.array([0.01 ** len(s) * 0.99 ** (5 - len(s)) for s in subsets()])
    posterior = prior * chances_of("F", 10)
    posterior /= posterior.sum()
    single = posterior[subsets().index(frozenset({"M1"}))]
    assert single == pytest.approx(0.3234, abs=5e-5)
    assert single == pytest.approx(0.01 * 0.99**4 / (1 - 0.99**3))


def test_stuck_outputs_of_whole_number_blocks():
    """All bits low is 0, all bits high is 15 of 16 values; X = 0 makes F = Y, X = 15 makes F = 15 + 6 = 5 modulo 16."""
    assert predicted(POLYBOX, "F", "value", ("M1", "stuck_low")) == {"6": 1.0}
    assert predicted(POLYBOX, "F", "value", ("M1", "stuck_high")) == {"5": 1.0}
    assert predicted(POLYBOX, "F", "value", ("M1", "dead")) == pytest.approx(ANY)


def test_zero_times_unknown_is_zero():
    on = board(
        block("zero", "given", numbers={"value": 0}),
        block("odd", "adder", "U1", p="zero"),
        block("out", "multiplier", "U2", p="zero", q="odd"),
    )
    assert predicted(on, "out", "value", ("U1", "wrong")) == {"0": 1.0}


def random_graph(random, size):
    """Blocks over earlier signals, in shuffled order; every block has a chip of its own name."""
    given = [block(f"g{n}", "given", numbers={"value": random.randrange(16)}) for n in range(4)]
    names, made = [each.name for each in given], []
    for n in range(size):
        sources = {f"p{k}": random.choice(names) for k in range(random.randint(1, 3))}
        made.append(block(f"b{n}", random.choice(["adder", "multiplier"]), f"b{n}", **sources))
        names.append(f"b{n}")
    random.shuffle(made)
    return board(*made, *given)


def plain(on, wrong):
    """Reference, one hypothesis at a time: None is 'not known'; the order comes from the standard library."""
    feeds = {each.name: set(each.inputs.values()) for each in on.blocks.values()}
    known = {}
    for name in TopologicalSorter(feeds).static_order():
        each = on.blocks[name]
        arriving = [known[signal] for signal in each.inputs.values()]
        if name in wrong:
            known[name] = None
        elif each.kind == "given":
            known[name] = int(each.numbers["value"])
        elif each.kind == "multiplier" and 0 in arriving:
            known[name] = 0
        elif None in arriving:
            known[name] = None
        else:
            total = 0 if each.kind == "adder" else 1
            for value in arriving:
                total = total + value if each.kind == "adder" else total * value
            known[name] = total % 16
    return known


@pytest.mark.parametrize("seed", range(20))
def test_random_graphs_against_a_plain_reference(seed):
    random = Random(seed)
    on = random_graph(random, 25)
    chips = [each.name for each in on.blocks.values() if each.parts]
    faulty = [set(random.sample(chips, random.randint(0, 3))) for _ in range(30)]
    hypotheses = [frozenset((ref, "wrong") for ref in refs) for refs in faulty]
    answer = ActivityPredictor().predict(on, ON, hypotheses, [Test(name, "value", "on") for name in on.blocks])
    for lane, refs in enumerate(faulty):
        for column, (name, value) in enumerate((name, plain(on, refs)[name]) for name in on.blocks):
            expected = np.full(16, 1 / 16) if value is None else np.eye(16)[value]
            np.testing.assert_allclose(answer.words[column][1][lane], expected, err_msg=f"{name} {refs}")
