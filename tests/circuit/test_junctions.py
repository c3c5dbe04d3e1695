"""
Junctions, against closed forms (Lambert's W, as scipy gives it) and ngspice.

A transistor with an open terminal is checked against ngspice with 1e12 ohm in that lead.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest
from scipy.special import lambertw

from kilter.circuit.board import Board, Element, State
from kilter.records.part import Part
from kilter.simulate.circuit.constants import thermal_voltage
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.junctions import (
    breakdown_voltage,
    one_ampere_voltage,
    open_transistor,
    transistor_currents,
)
from kilter.simulate.circuit.sweep import sweep
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.ngspice import NgspiceWorker, net_voltages

ON = State("on", powered=True)
VT = 1.380649e-23 * 300.15 / 1.602176634e-19
"""kT/q at 27 C, constants of the SI (2019)."""

NPN = {"is": 1e-14, "bf": 200.0, "br": 4.0, "vaf": 80.0}


def _solved(elements: list[Element], parts: list[Part], fault: tuple[str, str] | None = None) -> dict[str, float]:
    """Volts of every net of a small board."""
    board = Board("bench", {p.ref: p for p in parts}, {e.name: e for e in elements})
    equations = write_equations(board, powered=True)
    hypothesis = frozenset({fault} if fault else ())
    found = sweep(board, equations, ON, [hypothesis], sample_parameters(board, equations, 1), compiled=False)
    assert found.settled.all()
    return {net: float(found.volts[0, place, 0]) for net, place in equations.node_place.items()}


def test_thermal_voltage() -> None:
    """25.865 mV at 300.15 K."""
    assert thermal_voltage() == pytest.approx(VT, rel=1e-12)


@pytest.mark.parametrize("volts", [0.3, 1.0, 5.0, 100.0])
@pytest.mark.parametrize("ohm", [10.0, 1e3, 1e6])
@pytest.mark.parametrize(("saturation", "emission"), [(1e-14, 1.0), (4e-9, 1.9), (2e-6, 1.3)])
def test_a_diode_behind_a_resistor(volts: float, ohm: float, saturation: float, emission: float) -> None:
    """
    V = E + R Is - n vt W(R Is / (n vt) exp((E + R Is) / (n vt))) in closed form, to 1 microvolt + 1e-6.

    For large arguments W is computed as the solution w of w + ln w = ln argument.
    """
    elements = [
        Element("V1", "V", ("in", "0"), volts),
        Element("R1", "R", ("in", "a"), ohm),
        Element("D1", "D", ("a", "0"), 1.0, model={"is": saturation, "n": emission}),
    ]
    scale = emission * VT
    log_argument = log(ohm * saturation / scale) + (volts + ohm * saturation) / scale
    w = float(lambertw(exp(log_argument)).real) if log_argument < 500.0 else _large_w(log_argument)
    assert _solved(elements, [])["a"] == pytest.approx(volts + ohm * saturation - scale * w, rel=1e-6, abs=1e-6)


def _large_w(log_argument: float) -> float:
    w = log_argument - log(log_argument)
    for _ in range(50):
        w -= (w + log(w) - log_argument) / (1.0 + 1.0 / w)
    return w


@pytest.mark.parametrize("model", [
    {"is": 1e-14, "n": 1.2, "bv": 10.0, "ibv": 5e-3}, {"is": 1e-14, "n": 1.3, "bv": 3.3, "ibv": 2e-3},
    {"is": 4e-9, "n": 1.9, "bv": 100.0, "ibv": 1e-6},
])  # fmt: skip
class TestBreakdown:
    def test_carries_ibv_at_bv(self, model: dict[str, float]) -> None:
        """
        The exponential that starts at the voltage found carries IBV at BV.

        Where IBV is less than what IS alone makes of BV, as SPICE counts, it starts at BV itself.
        """
        start = breakdown_voltage(model, model["is"])
        scale = model["n"] * VT
        if model["ibv"] < model["is"] * model["bv"] / scale:
            assert start == model["bv"]
            return
        carried = model["is"] * (exp((model["bv"] - start) / scale) - 1.0 + start / scale)
        assert carried == pytest.approx(model["ibv"], rel=1e-3)

    def test_one_ampere(self, model: dict[str, float]) -> None:
        """At the voltage for 1 A the exponential alone is 1 A."""
        over = one_ampere_voltage(model, model["is"]) - breakdown_voltage(model, model["is"])
        assert model["is"] * exp(over / (model["n"] * VT)) == pytest.approx(1.0, rel=1e-9)

    @pytest.mark.ngspice
    def test_against_ngspice(self, model: dict[str, float], worker: NgspiceWorker) -> None:
        """A zener on 2 kohm from three times its voltage: the same to 1 mV."""
        elements = [
            Element("V1", "V", ("in", "0"), 3.0 * model["bv"]),
            Element("R1", "R", ("in", "k"), 2e3),
            Element("D1", "D", ("0", "k"), 1.0, model=model),
        ]
        assert _solved(elements, [])["k"] == pytest.approx(net_voltages(worker, elements)["k"], abs=1e-3)


def test_no_breakdown_unless_said() -> None:
    """A model without BV never breaks down."""
    assert breakdown_voltage({"is": 1e-14}, 1e-14) == np.inf
    assert one_ampere_voltage({"is": 1e-14}, 1e-14) == np.inf


class TestOpenTransistor:
    def test_open_emitter_leaves_the_collector_junction(self) -> None:
        """
        With no emitter current: IS(ef - 1) - IS(er - 1) = -IS/BF (ef - 1), so ef - 1 = BF/(BF+1) (er - 1), and the base
        current is (IS/BR + IS/(BF+1)) (er - 1).
        """
        transport, forward, reverse = transistor_currents(NPN, 1.0)
        assert open_transistor("e", forward, reverse, transport) == pytest.approx((0.0, 0.0, 1e-14 / 4 + 1e-14 / 201))

    def test_open_collector_leaves_the_emitter_junction(self) -> None:
        """The same with the two exchanged: IS/BF + IS/(BR+1)."""
        transport, forward, reverse = transistor_currents(NPN, 1.0)
        assert open_transistor("c", forward, reverse, transport) == pytest.approx((0.0, 1e-14 / 200 + 1e-14 / 5, 0.0))

    def test_two_open_terminals_leave_nothing(self) -> None:
        """Opened once more, the diode that was left is gone."""
        transport, forward, reverse = transistor_currents(NPN, 1.0)
        assert open_transistor("c", *open_transistor("b", forward, reverse, transport)[1:], 0.0) == (0.0, 0.0, 0.0)

    @pytest.mark.ngspice
    @pytest.mark.parametrize("terminal", ["c", "b", "e"])
    @pytest.mark.parametrize("polarity", [1.0, -1.0])
    @pytest.mark.parametrize("bias", [(5.0, 2.0), (0.0, 2.0), (-5.0, 2.0), (5.0, -2.0)])
    def test_against_ngspice(
        self, terminal: str, polarity: float, bias: tuple[float, float], worker: NgspiceWorker
    ) -> None:
        """Collector and base driven through resistors both ways round, one lead open: 0.1 % + 0.1 mV."""
        nets = {"c": "c", "b": "b", "e": "e"}
        collector, base = (polarity * volts for volts in bias)

        def drawn(nodes: dict[str, str]) -> list[Element]:
            return [
                Element("V1", "V", ("vc", "0"), collector), Element("R1", "R", ("vc", "c"), 4.7e3, "R1"),
                Element("V2", "V", ("vb", "0"), base), Element("R2", "R", ("vb", "b"), 10e3, "R2"),
                Element("R3", "R", ("e", "0"), 1e3, "R3"),
                Element("Q1", "Q", (nodes["c"], nodes["b"], nodes["e"]), 1.0, "Q1", NPN | {"polarity": polarity}),
            ]  # fmt: skip

        part = Part("Q1", "transistor", nets)
        ours = _solved(
            drawn(nets), [part, *(Part(f"R{i}", "resistor", {}) for i in (1, 2, 3))], ("Q1", f"open_{terminal}")
        )
        lifted = [*drawn(nets | {terminal: "apart"}), Element("R9", "R", ("apart", terminal), 1e12)]
        theirs = net_voltages(worker, lifted)
        for net in ("c", "b", "e"):
            assert ours[net] == pytest.approx(theirs[net], rel=1e-3, abs=1e-4)
