"""Sweeps remembered by hypothesis, and the spread that sets of several faults borrow, against the full sweep."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from kilter.circuit.board import Board, State
from kilter.parts.kinds import modes_of
from kilter.simulate.circuit.borrowed import Borrowed
from kilter.simulate.circuit.equations import Equations, write_equations
from kilter.simulate.circuit.sweep import Standing, Sweep
from kilter.simulate.circuit.swept import Answer, Swept
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.prediction import Hypothesis

ON = State("on", powered=True)
SAMPLES = 20
DOUBLES = 20


class _Asked:
    """A solver that keeps what it was asked for, and answers each hypothesis with its number of faults."""

    def __init__(self) -> None:
        self.calls: list[list[Hypothesis]] = []

    def __call__(self, hypotheses: Sequence[Hypothesis]) -> Answer:
        self.calls.append(list(hypotheses))
        volts = np.array([[[float(len(one)) + len("".join(sorted(map("".join, one)))) / 64] * 2] for one in hypotheses])
        return Sweep(volts, np.ones((len(hypotheses), 2), dtype=bool), tuple(frozenset() for _ in hypotheses), 0), 1


def _set(*faults: str) -> Hypothesis:
    return frozenset((fault, "open") for fault in faults)


class TestSwept:
    def test_each_hypothesis_is_solved_once_and_comes_back_in_its_row(self) -> None:
        """Asked in another order, with repetitions and one new set: only the new one is solved."""
        solver = _Asked()
        swept = Swept(solver)
        first, _ = swept([_set(), _set("R1"), _set("R22")])
        again, _ = swept([_set("R22"), _set("R333"), _set(), _set("R22")])
        assert solver.calls == [[_set(), _set("R1"), _set("R22")], [_set("R333")]]
        assert again.volts[:, 0, 0] == pytest.approx([first.volts[2, 0, 0], 1 + 8 / 64, 0.0, first.volts[2, 0, 0]])

    def test_lanes_answered_elsewhere_are_all_counted(self) -> None:
        """One in each of two calls."""
        swept = Swept(_Asked())
        swept([_set("R1")])
        assert swept([_set("R2")])[1] == 2


class TestBorrowed:
    def test_singles_are_solved_in_full_and_doubles_on_the_nominal_board(self) -> None:
        """A double asks for its two singles once, whoever asks again."""
        full, nominal = _Asked(), _Asked()
        borrowed = Borrowed(full, lambda hypotheses: nominal(hypotheses)[0])
        borrowed([_set("R1"), _set("R1", "R2")])
        borrowed([_set("R1", "R2"), _set("R2")])
        assert full.calls == [[_set("R1"), _set("R2")]]
        assert nominal.calls == [[_set("R1", "R2")], [_set("R1", "R2")]]


def _doubles(board: Board, generator: np.random.Generator) -> list[Hypothesis]:
    faults = [(ref, mode.key) for ref, part in board.parts.items() for mode in modes_of(part) if mode.circuit]
    found: list[Hypothesis] = []
    while len(found) < DOUBLES:
        a, b = (faults[i] for i in generator.choice(len(faults), 2, replace=False))
        if a[0] != b[0]:
            found.append(frozenset({a, b}))
    return found


def _both(board: Board, hypotheses: list[Hypothesis]) -> tuple[Equations, Sweep, Sweep]:
    """The borrowed and the full sweep."""
    equations = write_equations(board, powered=True)
    parameters = sample_parameters(board, equations, SAMPLES)
    full = Standing(board, equations, ON, parameters)
    one = Standing(board, equations, ON, parameters[:, :1])
    borrowed, _ = Borrowed(lambda hs: (full.sweep(hs, compiled=False), 0), lambda hs: one.sweep(hs, compiled=False))(
        hypotheses
    )
    return equations, borrowed, full.sweep(hypotheses, compiled=False)


@pytest.mark.parametrize("name", ["audio", "supply", "filter"])
def test_random_double_faults(name: str, netlist: Callable[[str], Board]) -> None:
    """
    Nominal voltages are those of the full sweep; the borrowed spread, over all nets and 20 random pairs of faults, is
    within a factor of two of the full one + 20 mV in nine cases of ten, and within 10 % + 5 mV in the middle one.
    """
    board = netlist(name)
    hypotheses = _doubles(board, np.random.default_rng(4))
    equations, borrowed, full = _both(board, hypotheses)
    places = [place for net, place in equations.node_place.items() if net != "0" and "~" not in net and "." not in net]
    held = np.array([[net not in floating for net, place in equations.node_place.items() if place in set(places)]
                     for floating in full.floating])  # fmt: skip
    settled = (full.settled.all(axis=1) & borrowed.settled.all(axis=1))[:, None] & held
    assert settled.mean() > 0.8
    assert borrowed.volts[:, places, 0][settled] == pytest.approx(full.volts[:, places, 0][settled], rel=1e-4, abs=1e-3)
    ours, theirs = (found.volts[:, places].std(axis=2, ddof=1)[settled] for found in (borrowed, full))
    near = (ours <= 2.0 * theirs + 0.02) & (theirs <= 2.0 * ours + 0.02)
    close = np.abs(ours - theirs) <= 0.1 * theirs + 0.005
    assert near.mean() >= 0.9
    assert close.mean() >= 0.5
