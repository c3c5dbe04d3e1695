"""Lanes that our engine leaves unsettled are answered by ngspice, or stay unknown and are counted; never guessed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from kilter.circuit.board import Board, Point, State
from kilter.measure.errors import NotAvailable
from kilter.records.test import Test
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.fallback import Fallback
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.circuit.sweep import Sweep, sweep
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.ngspice import NgspiceWorker
from kilter.simulate.prediction import Hypothesis

ON = State("on", powered=True)
FAULTS: list[Hypothesis] = [frozenset(), frozenset({("R4", "high")}), frozenset({("Q2", "open_b")})]
SAMPLES = 3


def _blanked(found: Sweep, lanes: list[tuple[int, int]]) -> Sweep:
    """The sweep as if these lanes had not settled."""
    volts, settled = found.volts.copy(), found.settled.copy()
    for row, sample in lanes:
        volts[row, :, sample], settled[row, sample] = np.nan, False
    return replace(found, volts=volts, settled=settled)


@pytest.fixture
def amplifier(netlist: Callable[[str], Board]) -> Board:
    """The audio amplifier with points, so that a predictor can be asked."""
    nets = ("bias", "coll1", "coll2", "out")
    return replace(netlist("audio"), points={net: Point(net, net) for net in nets}, states={"on": ON})


@pytest.mark.ngspice
class TestComplete:
    LANES = [(0, 0), (0, 2), (1, 1), (2, 0), (2, 1)]  # noqa: RUF012

    def test_missing_lanes_come_back_as_they_were(self, amplifier: Board, worker: NgspiceWorker) -> None:  # noqa: ARG002
        """Five lanes blanked and answered by ngspice: node voltages within 0.1 % + 1 mV of ours, supply current too."""
        equations = write_equations(amplifier, powered=True)
        parameters = sample_parameters(amplifier, equations, SAMPLES)
        found = sweep(amplifier, equations, ON, FAULTS, parameters, compiled=False)
        with Fallback() as fallback:
            full, answered = fallback.complete(
                amplifier, equations, ON, FAULTS, parameters, [], _blanked(found, self.LANES)
            )
        assert answered == len(self.LANES)
        assert full.settled.all()
        places = [*equations.node_place.values(), equations.branch_place["V1"]]
        for row, sample in self.LANES:
            ours, theirs = found.volts[row, places, sample], full.volts[row, places, sample]
            assert theirs == pytest.approx(ours, rel=1e-3, abs=1e-3)

    def test_settled_lanes_are_left_alone(self, amplifier: Board, worker: NgspiceWorker) -> None:  # noqa: ARG002
        """Bit for bit."""
        equations = write_equations(amplifier, powered=True)
        parameters = sample_parameters(amplifier, equations, SAMPLES)
        found = sweep(amplifier, equations, ON, FAULTS, parameters, compiled=False)
        with Fallback() as fallback:
            full, _ = fallback.complete(amplifier, equations, ON, FAULTS, parameters, [], _blanked(found, [(1, 1)]))
        others = np.ones(found.settled.shape, dtype=bool)
        others[1, 1] = False
        assert np.array_equal(full.volts.transpose(0, 2, 1)[others], found.volts.transpose(0, 2, 1)[others])

    def test_a_limit_leaves_the_rest_unsettled(self, amplifier: Board, worker: NgspiceWorker) -> None:  # noqa: ARG002
        """Two lanes at most: three of five stay unknown."""
        equations = write_equations(amplifier, powered=True)
        parameters = sample_parameters(amplifier, equations, SAMPLES)
        found = _blanked(sweep(amplifier, equations, ON, FAULTS, parameters, compiled=False), self.LANES)
        with Fallback(most=2) as fallback:
            full, answered = fallback.complete(amplifier, equations, ON, FAULTS, parameters, [], found)
        assert answered == 2
        assert int((~full.settled).sum()) == 3

    def test_through_the_predictor(
        self, amplifier: Board, worker: NgspiceWorker, monkeypatch: pytest.MonkeyPatch  # noqa: ARG002
    ) -> None:  # fmt: skip
        """An engine that settles nothing but the healthy board: the same readings, and every other lane counted."""
        tests = [Test(net, "voltage", "on") for net in amplifier.points]
        usual = CircuitPredictor(SAMPLES).predict(amplifier, ON, FAULTS, tests)
        with monkeypatch.context() as patch, Fallback() as fallback:
            _only_healthy(patch)
            forced = CircuitPredictor(SAMPLES, fallback).predict(amplifier, ON, FAULTS, tests)
        assert forced.fallback_lanes == 2 * SAMPLES
        assert forced.unsettled == 0
        assert forced.mean == pytest.approx(usual.mean, rel=1e-3, abs=1e-3)
        assert forced.spread == pytest.approx(usual.spread, rel=1e-2, abs=1e-3)


def _only_healthy(patch: pytest.MonkeyPatch) -> None:
    """Make every sweep leave all but its first hypothesis unsettled."""
    from kilter.simulate.circuit.sweep import Standing

    usual = Standing.sweep

    def crippled(self: Standing, hypotheses: list[Hypothesis], *, compiled: bool | None = None) -> Sweep:
        found = usual(self, hypotheses, compiled=compiled)
        lanes = [(row, s) for row, one in enumerate(hypotheses) if one for s in range(found.settled.shape[1])]
        return _blanked(found, lanes)

    patch.setattr(Standing, "sweep", crippled)


def test_without_a_second_engine_unsettled_is_unknown(amplifier: Board, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every reading of an unsettled hypothesis could be anything, and the lanes are counted."""
    tests = [Test(net, "voltage", "on") for net in amplifier.points]
    _only_healthy(monkeypatch)
    found = CircuitPredictor(SAMPLES).predict(amplifier, ON, FAULTS, tests)
    assert (found.unknown[1:] == 1.0).all()
    assert (found.unknown[0] == 0.0).all()
    assert found.unsettled == 2 * SAMPLES
    assert found.fallback_lanes == 0


def test_a_machine_without_the_library_leaves_them_unknown(amplifier: Board, monkeypatch: pytest.MonkeyPatch) -> None:
    """No error, no number."""

    def absent(_: NgspiceWorker) -> NgspiceWorker:
        raise NotAvailable("Cannot start ngspice", "no library", "a machine with it", "Install it.")

    monkeypatch.setattr(NgspiceWorker, "__enter__", absent)
    _only_healthy(monkeypatch)
    tests = [Test(net, "voltage", "on") for net in amplifier.points]
    with Fallback() as fallback:
        found = CircuitPredictor(SAMPLES, fallback).predict(amplifier, ON, FAULTS, tests)
    assert found.unsettled == 2 * SAMPLES
    assert (found.unknown[1:] == 1.0).all()
