"""
What a meter reads on a dead board, against ngspice with the meter's source laid between the nets, and in closed form.

Unpowered means: sources and controlled sources gone, the loads that stand for chips gone, capacitors as they are at
direct current. What is not checked: junctions of chips that no netlist shows, and charge left in capacitors.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from importlib.resources import as_file, files

import numpy as np
import pytest

from kilter.circuit.board import GROUND, Board, Element, Point, State
from kilter.circuit.places import with_points_across
from kilter.importers.load import load_board
from kilter.measure.instruments import TestSource, instrument
from kilter.measure.scales import from_scale, to_scale
from kilter.parts.kinds import modes_of
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.ngspice import NgspiceWorker
from kilter.simulate.ngspice.checked import sound_point
from kilter.simulate.ngspice.names import element_name, node_name
from kilter.simulate.prediction import Fault, Hypothesis

METERS = ("dmm", "precise_dmm", "strong_ohms_dmm", "low_voltage_ohms", "analogue_meter")
OFF = State("off", powered=False)
HEALTHY: Hypothesis = frozenset()
AGREE, OHMS, VOLTS = 0.02, 0.02, 1e-3
"""Agreement asked: 2 %, and 0.02 ohm or 1 mV where readings are next to nothing."""
FAULTS_TRIED, PROBES_TRIED = 10, 60


def _probed(board: Board) -> Board:
    """The board with every net against ground as a point, both ways round, and nothing but the state 'off'."""
    nets = sorted({net for element in board.elements.values() for net in element.nodes} - {GROUND})
    forward = {net: Point(net, net) for net in nets}
    backward = {f"{net}, leads exchanged": Point(f"{net}, leads exchanged", GROUND, net) for net in nets}
    return replace(board, points=forward | backward, states={"off": OFF})


def _demo() -> Board:
    with as_file(files("kilter.data").joinpath("demo")) as folder:
        return load_board(folder / "board.toml")


def _tests(board: Board, predictor: CircuitPredictor, meters: Iterable[str] = METERS) -> list[Test]:
    asked = [
        Test(point, q, "off", meter) for meter in meters for q in ("resistance", "diode") for point in board.points
    ]
    return [test for test in asked if _has_source(test) and predictor.answers(board, test)]


def _has_source(test: Test) -> bool:
    return test.quantity == "resistance" or instrument(test.instrument).diode_source is not None


def _source(test: Test) -> TestSource:
    meter = instrument(test.instrument)
    source = meter.diode_source if test.quantity == "diode" else meter.ohms_source
    assert source is not None
    return source


def _shown_by_ngspice(worker: NgspiceWorker, board: Board, fault: Hypothesis, test: Test) -> float:
    """What the meter's display would show: its source as two elements, its current as ngspice finds it."""
    source, point = _source(test), board.points[test.point]
    plus, minus = (point.net, point.against) if source.red_positive else (point.against, point.net)
    elements = apply_faults(board, board.states["off"], fault)
    elements += [
        Element("V_meter", "V", ("meter!", minus), source.open_volts),
        Element("R_meter", "R", ("meter!", plus), source.series_ohm),
    ]
    answer = sound_point(worker, [*elements, *_ties(elements)])
    volts = {net: answer[node_name(net)] for net in (plus, minus) if net != GROUND} | {GROUND: 0.0}
    across = volts[plus] - volts[minus]
    amperes = -answer[element_name("V", "V_meter") + "#branch"]
    if test.quantity == "diode":
        shown = np.inf if across > source.shows else across
    else:
        shown = across / amperes if amperes > 0.0 else np.inf
    return float(from_scale(test.quantity, to_scale(test.quantity, max(shown, 0.0))))


def _ties(elements: Iterable[Element]) -> list[Element]:
    """One resistor to ground for each island that nothing joins to it; no current flows in it."""
    joined: dict[str, set[str]] = {}
    for element in elements:
        for net in element.nodes if element.kind != "C" else ():
            joined.setdefault(net, set()).update(element.nodes)
    islands, seen = [], _reached(GROUND, joined)
    for net in sorted(joined.keys() | {net for element in elements for net in element.nodes}):
        if net not in seen:
            islands.append(Element(f"R_tie{net}", "R", (net, GROUND), 1e9))
            seen |= _reached(net, joined)
    return islands


def _reached(start: str, joined: dict[str, set[str]]) -> set[str]:
    found, edge = {start}, {start}
    while edge:
        edge = {other for net in edge for other in joined.get(net, ())} - found
        found |= edge
    return found


def _some_faults(board: Board, generator: np.random.Generator) -> list[Hypothesis]:
    faults: list[Fault] = [(ref, m.key) for ref, part in board.parts.items() for m in modes_of(part) if m.circuit]
    return [frozenset({faults[i]}) for i in generator.choice(len(faults), FAULTS_TRIED, replace=False)]


@pytest.mark.ngspice
@pytest.mark.parametrize("name", ["audio", "reset", "demo"])
def test_readings_on_a_dead_board(name: str, netlist: Callable[[str], Board], worker: NgspiceWorker) -> None:
    """
    Every healthy reading with every meter, and a sample of those under ten faults, within 2 % of ngspice.

    Readings that our engine calls unknown are not compared; they may be 1 in 200 at most.
    """
    board = _demo() if name == "demo" else _probed(netlist(name))
    predictor, generator = CircuitPredictor(1), np.random.default_rng(5)
    tests, hypotheses = _tests(board, predictor), [HEALTHY, *_some_faults(board, generator)]
    found = predictor.predict(board, board.states["off"], hypotheses, tests)
    pairs = [(0, column) for column in range(len(tests))]
    for row in range(1, len(hypotheses)):
        pairs += [(row, int(column)) for column in generator.choice(len(tests), PROBES_TRIED, replace=False)]
    known = [(row, column) for row, column in pairs if np.isfinite(found.mean[row, column])]
    settled = [(r, c) for r, c in known if found.unknown[r, c] < 1.0]
    assert len(settled) >= 0.995 * len(pairs)
    missed = []
    for row, column in settled:
        test = tests[column]
        ours = float(from_scale(test.quantity, found.mean[row, column]))
        theirs = _shown_by_ngspice(worker, board, hypotheses[row], test)
        if not abs(ours - theirs) <= AGREE * theirs + (VOLTS if test.quantity == "diode" else OHMS):
            missed.append(f"{sorted(hypotheses[row])} {test.point} {test.instrument}: {ours:.5g} {theirs:.5g}")
    assert not missed, "\n".join(missed)


def _board(*elements: Element, parts: Iterable[Part] = (), pairs: Iterable[tuple[str, str]] = (("a", "0"),)) -> Board:
    points = {f"{red}-{black}": Point(f"{red}-{black}", red, black) for red, black in pairs}
    return Board("bench", {p.ref: p for p in parts}, {e.name: e for e in elements}, points, states={"off": OFF})


def _read(board: Board, quantity: str, meter: str = "dmm", point: str = "a-0", state: State = OFF) -> float:
    """One reading on the nominal board, infinite at the end of the scale."""
    found = CircuitPredictor(1).predict(board, state, [HEALTHY], [Test(point, quantity, "off", meter)])
    end = float(to_scale(quantity, np.inf))
    return np.inf if found.mean[0, 0] >= end else float(from_scale(quantity, found.mean[0, 0]))


def _resistor(name: str, a: str, b: str, ohm: float) -> tuple[Element, Part]:
    return Element(name, "R", (a, b), ohm, name), Part(name, "resistor", {"1": a, "2": b}, number=ohm)


class TestClosedForms:
    @pytest.mark.parametrize("meter", METERS)
    def test_parallel_resistors(self, meter: str) -> None:
        """1 k beside 3 k is 750 ohm with any test source."""
        (r1, p1), (r2, p2) = _resistor("R1", "a", "0", 1e3), _resistor("R2", "a", "0", 3e3)
        assert _read(_board(r1, r2, parts=(p1, p2)), "resistance", meter) == pytest.approx(750.0, rel=1e-6)

    def test_reading_across_a_part_after_other_readings(self) -> None:
        """1 k and 3 k in series, read between their ends first and then, by the same predictor, across the first."""
        (r1, p1), (r2, p2) = _resistor("R1", "a", "m", 1e3), _resistor("R2", "m", "0", 3e3)
        board, predictor = _board(r1, r2, parts=(p1, p2)), CircuitPredictor(1)
        read = []
        for now, point in ((board, "a-0"), (with_points_across(board, ["R1"]), "R1")):
            found = predictor.predict(now, OFF, [HEALTHY], [Test(point, "resistance", "off", "dmm")])
            read.append(float(from_scale("resistance", found.mean[0, 0])))
        assert read == pytest.approx([4e3, 1e3], rel=1e-6)

    def test_a_source_and_a_chips_load_are_not_there(self) -> None:
        """A 9 V source and a chip's supply resistance beside 1 k: an unpowered board shows 1 k."""
        r1, p1 = _resistor("R1", "a", "0", 1e3)
        source = Element("V1", "V", ("a", "0"), 9.0)
        load = Element("R_U1.load", "R", ("a", "0"), 50.0, "U1")
        chip = Part("U1", "chip", {"vcc": "a", "gnd": "0"})
        assert _read(_board(r1, source, load, parts=(p1, chip)), "resistance") == pytest.approx(1e3, rel=1e-6)

    def test_a_capacitor_does_not_conduct_and_a_loose_net_is_over_limit(self) -> None:
        """Nothing but a capacitor between the leads: over limit."""
        board = _board(Element("C1", "C", ("a", "0"), 1e-6, "C1"), parts=(Part("C1", "film", {"1": "a", "2": "0"}),))
        assert _read(board, "resistance") == np.inf

    @pytest.mark.parametrize("meter", ["dmm", "precise_dmm", "strong_ohms_dmm"])
    def test_diode_mode_reads_the_junction_drop(self, meter: str) -> None:
        """
        The reading V solves V = n vt ln(1 + (Vopen - V) / (Rs Is)), found here by bisection; the other way round it is
        over limit.
        """
        model = {"is": 4e-9, "n": 1.9}
        board = _board(
            Element("D1", "D", ("a", "0"), 1.0, "D1", model),
            parts=(Part("D1", "diode", {"a": "a", "k": "0"}),),
            pairs=(("a", "0"), ("0", "a")),
        )
        source = instrument(meter).diode_source
        assert source is not None
        vt = 1.9 * 1.380649e-23 * 300.15 / 1.602176634e-19
        low, high = 0.0, source.open_volts
        for _ in range(80):
            middle = (low + high) / 2
            through_diode = 4e-9 * np.expm1(min(middle / vt, 200.0))
            low, high = (
                (middle, high) if through_diode < (source.open_volts - middle) / source.series_ohm else (low, middle)
            )
        assert _read(board, "diode", meter) == pytest.approx(low, abs=1e-5)
        assert _read(board, "diode", meter, "0-a") == np.inf

    def test_red_lead_of_a_moving_coil_meter_is_negative(self) -> None:
        """It shows a diode as conducting the other way round than a digital meter in diode mode does."""
        diode = Element("D1", "D", ("a", "0"), 1.0, "D1", {"is": 1e-9, "n": 1.6})
        part = Part("D1", "diode", {"a": "a", "k": "0"})
        board = _board(diode, parts=(part,), pairs=(("a", "0"), ("0", "a")))
        assert _read(board, "resistance", "analogue_meter") == np.inf
        assert _read(board, "resistance", "analogue_meter", "0-a") < 2e3

    def test_low_voltage_ohms_leave_a_junction_off_and_strong_ones_do_not(self) -> None:
        """47 k with a silicon diode across: within 1 % of 47 k at 0.2 V, below 2 k at 2.8 V."""
        r1, p1 = _resistor("R1", "a", "0", 47e3)
        diode = Element("D1", "D", ("a", "0"), 1.0, "D1", {"is": 1e-14, "n": 1.0})
        board = _board(r1, diode, parts=(p1, Part("D1", "diode", {"a": "a", "k": "0"})))
        assert _read(board, "resistance", "low_voltage_ohms") == pytest.approx(47e3, rel=0.01)
        assert _read(board, "resistance", "strong_ohms_dmm") < 2e3

    def test_lifting_a_pin_and_pulling_a_part(self) -> None:
        """1 k and 3 k: with one end of the 3 k lifted, or the part pulled, 1 k is left."""
        (r1, p1), (r2, p2) = _resistor("R1", "a", "0", 1e3), _resistor("R2", "a", "0", 3e3)
        board = _board(r1, r2, parts=(p1, p2))
        assert _read(board, "resistance", state=OFF.after(lifted="R2.1")) == pytest.approx(1e3, rel=1e-6)
        assert _read(board, "resistance", state=OFF.after(unplugged="R2")) == pytest.approx(1e3, rel=1e-6)

    def test_between_two_nets_off_ground(self) -> None:
        """A bridge of three 1 k from a to b over c: 1 k beside 2 k is 666.7 ohm, and ground plays no part."""
        rows = [_resistor("R1", "a", "b", 1e3), _resistor("R2", "a", "c", 1e3), _resistor("R3", "c", "b", 1e3)]
        board = _board(*(e for e, _ in rows), parts=[p for _, p in rows], pairs=(("a", "b"),))
        assert _read(board, "resistance", point="a-b") == pytest.approx(2e3 / 3, rel=1e-6)
