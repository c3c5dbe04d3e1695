"""Tolerance samples: the nominal board first, mean and spread as asked, and the same draws for the same element."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from kilter.circuit.board import Board, Element, Point, State
from kilter.parts.kinds import part_kind
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.circuit.sweep import sweep
from kilter.simulate.circuit.tolerances import sample_parameters, sampled_board, two_sigma
from kilter.simulate.ngspice import NgspiceWorker, net_voltages

ON = State("on", powered=True)


def _divider(*, upper: float | None = 0.1, lower: float | None = 0.02) -> Board:
    """Ten volts, 1 k over 1 k; the tolerances are two sigma, None takes the kind's."""
    elements = [
        Element("V1", "V", ("in", "0"), 10.0, tolerance=0.0),
        Element("R1", "R", ("in", "out"), 1e3, "R1", tolerance=upper),
        Element("R2", "R", ("out", "0"), 1e3, "R2", tolerance=lower),
    ]
    parts = {
        "R1": Part("R1", "resistor", {"1": "in", "2": "out"}, number=1e3),
        "R2": Part("R2", "resistor", {"1": "out", "2": "0"}, number=1e3),
    }
    points = {"out": Point("out", "out")}
    return Board("divider", parts, {e.name: e for e in elements}, points, states={"on": ON})


def _ohms(board: Board, name: str, samples: int, **choices: int) -> np.ndarray:
    equations = write_equations(board, powered=True)
    return 1.0 / sample_parameters(board, equations, samples, **choices)[equations.parameter["g", name]]


def test_the_first_sample_is_the_nominal_board() -> None:
    """Exactly."""
    assert _ohms(_divider(), "R1", 20)[0] == 1e3


@pytest.mark.parametrize("samples", [20, 60, 300])
def test_mean_and_spread(samples: int) -> None:
    """
    ln R has mean ln 1000 and, the nominal board left out, a standard deviation of exactly half the two-sigma tolerance:
    the draws are centred and scaled, so this holds for few samples too.
    """
    logs = np.log(_ohms(_divider(), "R1", samples)[1:])
    assert logs.mean() == pytest.approx(np.log(1e3), abs=1e-9)
    assert logs.std() == pytest.approx(0.05, rel=1e-9)


def test_the_spread_of_a_divider_in_closed_form() -> None:
    """d ln(V)/d ln(R1) = -1/2 and +1/2 for R2: 10 % and 2 % two sigma give 5 V * 0.5 * hypot(5, 1) % = 127 mV."""
    found = CircuitPredictor(400).predict(_divider(), ON, [frozenset()], [Test("out", "voltage", "on")])
    assert found.mean[0, 0] == pytest.approx(5.0, abs=0.02)
    assert found.spread[0, 0] == pytest.approx(5.0 * 0.5 * np.hypot(0.05, 0.01), rel=0.1)


def test_draws_belong_to_the_element_and_not_to_its_neighbours() -> None:
    """R2's numbers stay when R1 is gone, renamed or of another tolerance; R1's are others than R2's."""
    board = _divider(upper=0.1, lower=0.1)
    alone = replace(board, elements={name: e for name, e in board.elements.items() if name != "R1"})
    other = _divider(upper=0.4, lower=0.1)
    kept = _ohms(board, "R2", 30)
    assert np.array_equal(kept, _ohms(alone, "R2", 30))
    assert np.array_equal(kept, _ohms(other, "R2", 30))
    assert abs(np.corrcoef(kept[1:], _ohms(board, "R1", 30)[1:])[0, 1]) < 0.6


def test_the_seed_makes_other_boards() -> None:
    """And the same seed the same boards."""
    assert np.array_equal(_ohms(_divider(), "R1", 30, seed=1), _ohms(_divider(), "R1", 30, seed=1))
    assert not np.array_equal(_ohms(_divider(), "R1", 30, seed=1), _ohms(_divider(), "R1", 30, seed=2))


class TestWhoseTolerance:
    def test_own_then_part_then_kind(self) -> None:
        """The element's own comes first, then the part's, then the kind's."""
        board = _divider(upper=None)
        part = replace(board.parts["R1"], tolerance=0.2)
        assert two_sigma(_divider(upper=0.1), _divider(upper=0.1).elements["R1"]) == 0.1
        assert two_sigma(replace(board, parts={**board.parts, "R1": part}), board.elements["R1"]) == 0.2
        assert two_sigma(board, board.elements["R1"]) == part_kind("resistor").tolerance

    def test_sources_of_the_outside_world(self) -> None:
        """A source whose line gives none takes the engine's number; a resistor of no part has none."""
        board = _divider()
        assert two_sigma(board, Element("V9", "V", ("a", "0"), 5.0)) == engine_number("source_spread")
        assert two_sigma(board, Element("R9", "R", ("a", "0"), 5.0)) == 0.0


@pytest.mark.ngspice
@pytest.mark.parametrize("name", ["audio", "supply"])
def test_a_sampled_board_written_out_gives_the_same_volts(
    name: str, netlist: Callable[[str], Board], worker: NgspiceWorker
) -> None:
    """Three sampled boards as netlists of their own, solved by ngspice: every net within 0.1 % + 1 mV of that lane."""
    board = netlist(name)
    equations = write_equations(board, powered=True)
    parameters = sample_parameters(board, equations, 4)
    found = sweep(board, equations, ON, [frozenset()], parameters, compiled=False)
    for sample in (1, 2, 3):
        built = sampled_board(board, equations, parameters[:, sample])
        theirs = net_voltages(worker, apply_faults(built, ON, frozenset()))
        for net, volts in theirs.items():
            assert found.volts[0, equations.node_place[net], sample] == pytest.approx(volts, rel=1e-3, abs=1e-3), net
