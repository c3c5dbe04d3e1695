"""
What states and faults do to a circuit: rewritten elements put to ngspice, against moved parameters in our engine.

Every single fault of every netlist is compared in test_operating_points.py; here are the states of an object (lifted,
pulled, switched, renewed, other supplies), alone and together with faults, and what is refused.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from kilter.circuit.board import Board, Element, State
from kilter.measure.errors import BadInput
from kilter.records.part import Part
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.faults import apply_faults, changes, fault_moves, mode_of, present_faults, state_moves
from kilter.simulate.circuit.sweep import moved, sweep
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.ngspice import NgspiceWorker, net_voltages
from kilter.simulate.prediction import Hypothesis

ON = State("on", powered=True)
HEALTHY: Hypothesis = frozenset()


def _ours(board: Board, state: State, hypothesis: Hypothesis = HEALTHY) -> dict[str, float]:
    """Volts of every net, those of nets that nothing holds left out."""
    equations = write_equations(board, powered=True)
    found = sweep(board, equations, state, [hypothesis], sample_parameters(board, equations, 1), compiled=False)
    assert found.settled.all()
    place = equations.node_place
    return {
        net: float(found.volts[0, place[net], 0]) for net in place if net not in found.floating[0] and "~" not in net
    }


def _agree(worker: NgspiceWorker, board: Board, state: State, hypothesis: Hypothesis = HEALTHY) -> None:
    """Both engines within 0.2 % + 1 mV at every net that something holds."""
    ours = _ours(board, state, hypothesis)
    elements = apply_faults(board, state, hypothesis)
    nets = {net for element in elements for net in element.nodes}
    held = {net: volts for net, volts in ours.items() if net in nets}
    loose = sorted(nets - held.keys())
    elements += [Element(f"R_tie{net}", "R", (net, "0"), 1e12) for net in loose]
    theirs = net_voltages(worker, elements)
    assert len(held) > 3
    for net, volts in held.items():
        assert volts == pytest.approx(theirs[net], rel=2e-3, abs=1e-3), net


@pytest.mark.ngspice
class TestStatesAgainstNgspice:
    @pytest.mark.parametrize("place", ["Q1.b", "Q1.e", "Q2.c", "R4.1", "Q3.b", "R6.2"])
    def test_a_lifted_pin(self, place: str, netlist: Callable[[str], Board], worker: NgspiceWorker) -> None:
        """One pin of the audio amplifier off its net."""
        _agree(worker, netlist("audio"), ON.after(lifted=place))

    @pytest.mark.parametrize("places", [("Q1.b", "R8.1"), ("Q1.b", "Q1.c"), ("Q2.e", "Q2.b", "Q2.c")])
    def test_several_lifted_pins(
        self, places: tuple[str, ...], netlist: Callable[[str], Board], worker: NgspiceWorker
    ) -> None:
        """Two or three at once, on one part or on several."""
        _agree(worker, netlist("audio"), replace(ON, lifted=frozenset(places)))

    @pytest.mark.parametrize("place", ["U2.out", "U2.in-", "U1.v+", "U3.in+", "U4.v-"])
    def test_a_lifted_pin_of_a_part_of_many_elements(
        self, place: str, netlist: Callable[[str], Board], worker: NgspiceWorker
    ) -> None:
        """
        One pin of an op-amp; whatever is left hanging inside is not compared.

        An input that nothing drives is multiplied by 100,000: the reference holds it by 1e12 ohm behind 500 megohm.
        """
        _agree(worker, netlist("filter"), ON.after(lifted=place))

    @pytest.mark.parametrize("part", ["Q1", "Q2", "R3", "R5", "Q3", "C1"])
    def test_a_pulled_part(self, part: str, netlist: Callable[[str], Board], worker: NgspiceWorker) -> None:
        """A part taken out whole."""
        _agree(worker, netlist("audio"), ON.after(unplugged=part))

    def test_a_pulled_op_amp(self, netlist: Callable[[str], Board], worker: NgspiceWorker) -> None:
        """A part of many elements taken out whole."""
        _agree(worker, netlist("filter"), ON.after(unplugged="U3"))

    @pytest.mark.parametrize("volts", [3.0, 9.0, 24.0, -5.0])
    def test_another_supply(self, volts: float, netlist: Callable[[str], Board], worker: NgspiceWorker) -> None:
        """A bench supply at another voltage, and the wrong way round."""
        _agree(worker, netlist("audio"), replace(ON, supplies={"V1": volts}))

    @pytest.mark.parametrize("fault", [("R2", "open"), ("Q2", "short_ce"), ("R8", "high"), ("C2", "leak")])
    def test_a_fault_beside_a_lifted_pin_and_a_low_supply(
        self, fault: tuple[str, str], netlist: Callable[[str], Board], worker: NgspiceWorker
    ) -> None:
        """State and fault together."""
        state = replace(ON, supplies={"V1": 12.0}, lifted=frozenset({"Q3.b"}))
        _agree(worker, netlist("audio"), state, frozenset({fault}))

    @pytest.mark.parametrize("place", ["Q1.b", "Q1.c", "Q1.e"])
    @pytest.mark.parametrize("fault", [("Q1", "open_b"), ("Q1", "open_c"), ("Q1", "open_e")])
    def test_a_transistor_with_a_lifted_pin_and_another_open_inside(
        self, place: str, fault: tuple[str, str], netlist: Callable[[str], Board], worker: NgspiceWorker
    ) -> None:
        """One junction is left, or nothing."""
        _agree(worker, netlist("audio"), ON.after(lifted=place), frozenset({fault}))

    def test_a_fault_on_a_part_with_a_lifted_pin(self, netlist: Callable[[str], Board], worker: NgspiceWorker) -> None:
        """Q2 with its collector off and its base shorted to its emitter."""
        _agree(worker, netlist("audio"), ON.after(lifted="Q2.c"), frozenset({("Q2", "short_be")}))


def _switched() -> Board:
    """Ten volts, a switch and 1 k into 1 k."""
    elements = [
        Element("V1", "V", ("in", "0"), 10.0),
        Element("RS1", "R", ("in", "a"), 0.02, "RS1"),
        Element("R1", "R", ("a", "out"), 1e3, "R1"),
        Element("R2", "R", ("out", "0"), 1e3, "R2"),
    ]
    parts = [
        Part("RS1", "switch", {"1": "in", "2": "a"}, number=0.02),
        Part("R1", "resistor", {"1": "a", "2": "out"}, number=1e3),
        Part("R2", "resistor", {"1": "out", "2": "0"}, number=1e3),
    ]
    return Board("switched", {p.ref: p for p in parts}, {e.name: e for e in elements})


class TestClosedForms:
    def test_a_switch_open_and_closed(self) -> None:
        """Open: nothing but leakage through the dust of an open contact; closed: the divider, its contact in series."""
        leak, contact = engine_number("open_ohm"), engine_number("bridge_ohm")
        opened, closed = (_ours(_switched(), replace(ON, modes={"RS1": way}))["out"] for way in ("open", "closed"))
        assert opened == pytest.approx(10.0 * 1e3 / (leak + 2e3), rel=1e-6)
        assert closed == pytest.approx(10.0 * 1e3 / (contact + 2e3), rel=1e-9)

    def test_what_is_pulled_or_renewed_has_no_fault(self) -> None:
        """A fault of R1 counts until it is renewed or pulled."""
        fault = frozenset({("R1", "high")})
        assert _ours(_switched(), ON, fault)["out"] == pytest.approx(4.0, rel=1e-4)
        assert _ours(_switched(), ON.after(renewed="R1"), fault)["out"] == pytest.approx(5.0, rel=1e-4)
        assert present_faults(ON.after(unplugged="R1"), fault) == HEALTHY

    @pytest.mark.parametrize("place", ["C1.1", "C1.2"])
    def test_lifting_a_pin_of_a_shorted_part_takes_the_short_off_the_board(self, place: str) -> None:
        """That is what a pin is lifted for: the divider is back at 5 V, in both ways of saying it."""
        board = _switched()
        capacitor = Part("C1", "film", {"1": "out", "2": "0"})
        elements = {**board.elements, "C1": Element("C1", "C", ("out", "0"), 1e-9, "C1")}
        board = replace(board, parts={**board.parts, "C1": capacitor}, elements=elements)
        short = frozenset({("C1", "short")})
        assert _ours(board, ON, short)["out"] < 0.1
        assert _ours(board, ON.after(lifted=place), short)["out"] == pytest.approx(5.0, rel=1e-4)
        lifted = apply_faults(board, ON.after(lifted=place), short)
        assert not [
            element for element in lifted if element.kind == "R" and element.value < 100.0 and element.part != "RS1"
        ]

    def test_an_unknown_switch_position_leaves_the_netlist_alone(self) -> None:
        """Positions speak of switches only."""
        assert _ours(_switched(), replace(ON, modes={"R1": "open"}))["out"] == pytest.approx(5.0, rel=1e-4)

    def test_two_shorts_across_the_same_nets_add_up(self) -> None:
        """R2 shorted and C1 beside it shorted: two bridges in parallel."""
        board = _switched()
        capacitor = Part("C1", "film", {"1": "out", "2": "0"})
        elements = {**board.elements, "C1": Element("C1", "C", ("out", "0"), 1e-9, "C1")}
        board = replace(board, parts={**board.parts, "C1": capacitor}, elements=elements)
        ohms = [mode_of(board, ref, "short").circuit[0].amount for ref in ("R2", "C1")]
        both = 1.0 / (1.0 / ohms[0] + 1.0 / ohms[1] + 1e-3)
        found = _ours(board, ON, frozenset({("R2", "short"), ("C1", "short")}))["out"]
        assert found == pytest.approx(10.0 * both / (both + 1000.02), rel=1e-6)

    def test_moves_of_a_state_and_a_fault_are_those_of_both(self) -> None:
        """`changes` is the state's moves, then each fault's."""
        board = _switched()
        equations = write_equations(board, powered=True)
        state = replace(ON, supplies={"V1": 5.0})
        both = changes(board, equations, state, frozenset({("R1", "high")}))
        assert both == [*state_moves(board, equations, state), *fault_moves(board, equations, state, ("R1", "high"))]
        nominal = sample_parameters(board, equations, 1)
        table = moved(nominal, both)
        assert table[equations.parameter["v", "V1"], 0] == 5.0
        assert table[equations.parameter["g", "R1"], 0] == pytest.approx(1.0 / 1.5e3)
        assert np.array_equal(nominal, sample_parameters(board, equations, 1)), "the healthy samples are left alone"


class TestRefusals:
    def test_no_such_part(self) -> None:
        """The message lists the parts."""
        with pytest.raises(BadInput, match="RS1, R1, R2"):
            mode_of(_switched(), "R9", "open")

    def test_no_such_mode(self) -> None:
        """The message lists the modes."""
        with pytest.raises(BadInput, match=r"high.*short"):
            mode_of(_switched(), "R1", "melted")
