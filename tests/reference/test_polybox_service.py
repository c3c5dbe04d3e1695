"""
The polybox through the whole service: board file, readings file, suspects, next test.

Board, inputs, the observation F = 10, G = 12, its conflicts and its four minimal diagnoses: J. de Kleer and B. C.
Williams, Diagnosing multiple faults, Artificial Intelligence 32 (1987) 97-130. Minimal diagnoses are recomputed by
PySAT's hitting-set solver. Probabilities and gains do not stand in the paper in this form; each is recomputed here from
the joint table of all 17^5 ways in which five units can be healthy or hold one of 16 values.
"""

from functools import cache
from math import log
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from kilter.diagnose.enumerate import Limits
from kilter.importers.load import load_board, load_readings
from kilter.parts.kinds import part_kind
from kilter.services.diagnose import Diagnoser

UNITS = ("M1", "M2", "M3", "A1", "A2")
M, P = 16, 0.01
A, B, C, D, E = 3, 2, 2, 3, 3
BOARD = Path(__file__).parent / "polybox.toml"
BEYOND = 1e-5
"""Fault sets of four and five units are not visited; their share of the posterior is below this."""


@cache
def joint():
    """Weight, fault set (as bits) and lines of every combination; index 0 of an axis is 'healthy', k + 1 'holds k'."""
    held = dict(zip(UNITS, np.indices((M + 1,) * len(UNITS)) - 1, strict=True))
    faulty = {unit: value >= 0 for unit, value in held.items()}
    weight = np.prod([np.where(faulty[unit], P / M, 1 - P) for unit in UNITS], axis=0)
    x, y, z = (np.where(faulty[u], held[u], out) for u, out in (("M1", A * C), ("M2", B * D), ("M3", C * E)))
    f = np.where(faulty["A1"], held["A1"], (x + y) % M)
    g = np.where(faulty["A2"], held["A2"], (y + z) % M)
    sets = sum(faulty[unit].astype(int) << place for place, unit in enumerate(UNITS))
    return weight, sets, {"X": x, "Y": y, "Z": z, "F": f, "G": g}


def by_table(readings):
    """Posterior weight of every combination after the readings."""
    weight, _, lines = joint()
    for line, value in readings:
        weight = np.where(lines[line] == value, weight, 0.0)
    return weight / weight.sum()


def set_shares(readings):
    shares = np.bincount(joint()[1].ravel(), by_table(readings).ravel())
    return {frozenset(u for n, u in enumerate(UNITS) if bits >> n & 1): share for bits, share in enumerate(shares)}


def nats(*labels, weight):
    """Joint entropy of some labels of the combinations."""
    codes = sum(label.ravel() * 64**place for place, label in enumerate(labels))
    shares = np.bincount(codes, weight.ravel())
    return float(-(shares[shares > 0] * np.log(shares[shares > 0])).sum())


@cache
def found(readings):
    board = load_board(BOARD)
    limits = Limits(max_faults=3, complete_limit=50_000, batch=50_000, pruned_mass=0.0, asker_hypotheses=50_000)
    return Diagnoser(board, limits=limits, outside=0.0, gross=0.0).diagnose(readings_of(board, readings))


def readings_of(board, readings):
    with TemporaryDirectory() as folder:
        file = Path(folder) / "readings.csv"
        file.write_text("\n".join(["point,quantity,value", *(f"{point},value,{value}" for point, value in readings)]))
        return load_readings(file, board)


def found_sets(readings):
    shares = {}
    for one, weight in zip(found(readings).posterior.hypotheses, found(readings).posterior.weights, strict=True):
        parts = frozenset(part for part, _ in one)
        shares[parts] = shares.get(parts, 0.0) + float(weight)
    return shares


F, FG = (("F", 10),), (("F", 10), ("G", 12))


@pytest.mark.parametrize("readings", [F, FG])
def test_every_fault_set_of_up_to_three_units_is_visited(readings):
    assert part_kind("function_unit").odds == P
    posterior = found(readings).posterior
    assert len(posterior.hypotheses) == 1 + 5 * 16 + 10 * 16**2 + 10 * 16**3
    assert posterior.visited_mass == 1.0
    assert 0.0 < posterior.prior_beyond < 1e-7


@pytest.mark.parametrize("readings", [(), F, FG, (*FG, ("X", 4)), (*FG, ("X", 6)), (("F", 10), ("G", 10))])
def test_posterior_equals_the_joint_table(readings):
    expected, ours = set_shares(readings), found_sets(readings)
    assert sum(share for parts, share in expected.items() if len(parts) > 3) < BEYOND
    for parts, share in ours.items():
        assert share == pytest.approx(expected[parts], abs=BEYOND)
    for unit in UNITS:
        marginal = sum(share for parts, share in expected.items() if unit in parts)
        assert found(readings).posterior.parts().get(unit, 0.0) == pytest.approx(marginal, abs=BEYOND)


def test_one_wrong_value_of_m2_explains_both_sums_wrong_by_the_same_amount_but_not_f_alone():
    """Y = 4 gives F = 10 and G = 10; with G = 12 the unit M2 by itself is out, as in the paper."""
    assert found_sets((("F", 10), ("G", 10)))[frozenset({"M2"})] > 0.9
    assert found_sets(FG)[frozenset({"M2"})] < 1e-12


def test_after_f_alone_the_three_suspects_are_equal():
    """p (1-p)^4 / (1 - (1-p)^3) = 0.3234, closed form, but for what a unit that holds the right value takes of it."""
    shares = found_sets(F)
    for unit in ("A1", "M1", "M2"):
        assert shares[frozenset({unit})] == pytest.approx(0.3234, abs=1e-4)
        assert shares[frozenset({unit})] == pytest.approx(shares[frozenset({"M1"})], rel=1e-9)


def test_numbers_after_f_and_g():
    """0.4962 for M1 and A1 alone; marginals 0.5022, 0.0013 and 0.0010: recomputed for 16 values and p = 0.01."""
    shares, parts = found_sets(FG), found(FG).posterior.parts()
    assert [shares[frozenset({unit})] for unit in ("M1", "A1")] == pytest.approx([0.4962] * 2, abs=1e-4)
    assert [parts[unit] for unit in ("M1", "A1")] == pytest.approx([0.5022] * 2, abs=1e-4)
    assert [parts[unit] for unit in ("M2", "M3", "A2")] == pytest.approx([0.0013, 0.0010, 0.0010], abs=1e-4)
    assert [suspect.part for suspect in found(FG).suspects] == ["A1", "M1"]


@pytest.mark.parametrize(
    ("readings", "conflicts"),
    [(F, [["A1", "M1", "M2"]]), (FG, [["A1", "M1", "M2"], ["A1", "A2", "M1", "M3"]])],
)
def test_minimal_diagnoses_are_those_of_a_hitting_set_solver(readings, conflicts):
    """Conflicts as the paper derives them; hitting sets by PySAT."""
    hitman = pytest.importorskip("pysat.examples.hitman", reason="the outside SAT library is not installed")
    with hitman.Hitman(bootstrap_with=conflicts, htype="sorted") as solver:
        expected = {frozenset(one) for one in solver.enumerate()}
    possible = {parts for parts, share in found_sets(readings).items() if share > 1e-12}
    assert {one for one in possible if not any(other < one for other in possible)} == expected
    assert expected == {frozenset(names.split()) for names in PAPER[readings]}


PAPER = {F: ("A1", "M1", "M2"), FG: ("A1", "M1", "M2 A2", "M2 M3")}


def test_next_test_after_f_and_g_is_x_then_y_then_z():
    """
    The paper's best probe is X. Bits of the service tell which unit and which value, so they are the entropy of what
    the probe will show; the gain about which units alone is 0.716, 0.0054 and 0.0030 nat.
    """
    weight, sets, lines = by_table(FG), joint()[1], joint()[2]
    assert [advice.test.point for advice in found(FG).advice] == ["X", "Y", "Z"]
    for advice, gain in zip(found(FG).advice, (0.716, 0.0054, 0.0030), strict=True):
        probe = lines[advice.test.point]
        assert advice.bits * log(2) == pytest.approx(nats(probe, weight=weight), abs=1e-4)
        about_units = nats(probe, weight=weight) + nats(sets, weight=weight) - nats(probe, sets, weight=weight)
        assert about_units == pytest.approx(gain, abs=5e-4 if gain > 0.1 else 5e-5)
        assert about_units < advice.bits * log(2)


def test_after_f_alone_x_and_y_tie_and_g_tells_most():
    bits = {advice.test.point: advice.bits for advice in found(F).advice}
    assert max(bits, key=bits.__getitem__) == "G"
    assert bits["X"] == pytest.approx(bits["Y"], abs=1e-9)
    assert [bits[point] * log(2) for point in "GXYZ"] == pytest.approx(
        [nats(joint()[2][point], weight=by_table(F)) for point in "GXYZ"], abs=1e-4
    )


@pytest.mark.parametrize(("value", "guilty"), [(4, "M1"), (6, "A1")])
def test_x_tells_which_of_the_two_it_is(value, guilty):
    """X = 4 blames M1, X = 6 blames A1 (the paper)."""
    after = found((*FG, ("X", value))).posterior.parts()
    assert after[guilty] > 0.98
    assert max(after, key=after.__getitem__) == guilty
