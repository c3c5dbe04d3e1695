"""One single object of a board type: its own part values, its faults, and what meters and people read on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from kilter.circuit.board import GROUND, Board, Element, State
from kilter.measure.instruments import Instrument, instrument
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale
from kilter.records.test import Test
from kilter.simulate.activity.predictor import ActivityPredictor
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.circuit.tolerances import two_sigma
from kilter.simulate.ngspice import NgspiceWorker, net_voltages
from kilter.simulate.prediction import Floats, Hypothesis

SUPPLY, SUPPLY_CONTACT = "V1", "RJ1"
"""The bench supply and the resistor that carries its current."""

UNSIGNED = ("frequency", "resistance", "current")
"""Quantities of which no display shows a minus."""


@dataclass
class DemoObject:
    """
    Args:
        board: Its type.
        faults: What is wrong with it.
        worker: ngspice, which answers all voltages.
        seed: Of everything that chance decides.
    """

    board: Board
    faults: Hypothesis
    worker: NgspiceWorker
    seed: int
    own: Board = field(init=False)
    chance: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        self.chance = np.random.default_rng(self.seed)
        elements = {name: self._own_value(element) for name, element in self.board.elements.items()}
        self.own = replace(self.board, elements=elements)

    def read(self, test: Test, state: State) -> str:
        """What the volunteer writes down, in a state with what has been done so far."""
        if not quantity(test.quantity).numeric:
            return self._word(test, state)
        return self._shown(test, self._truth(test, state))

    def _truth(self, test: Test, state: State) -> float:
        """The number that a perfect display of that meter would show."""
        meter = instrument(test.instrument)
        if test.quantity == "voltage":
            return self._volts(state, test, [_load(self._pair(test), meter)])
        if test.quantity == "current":
            return self._current(state)
        if test.quantity == "resistance":
            return self._ohms(state, test, meter)
        told = self._activity().predict(self.own, state, [self.faults], [test])
        if told.unknown[0, 0] > 0.0:
            raise ValueError(f"{test.quantity} at {test.point} is not known, so it cannot be made up")
        return float(from_scale(test.quantity, np.array(told.mean[0, 0])))

    def _word(self, test: Test, state: State) -> str:
        words, chances = self._activity().predict(self.own, state, [self.faults], [test]).words[0]
        return str(self.chance.choice(words, p=chances[0]))

    def _shown(self, test: Test, value: float) -> str:
        """With the meter's error, on its display: the lowest range that holds the value, its last digit."""
        meter, unit = instrument(test.instrument), quantity(test.quantity).unit
        error = self.chance.standard_normal() * meter.standard_uncertainty(test.quantity, value)
        law = meter.reads[test.quantity]
        full = next(full for full in law.ranges if abs(value) < full)
        digits = round(-np.log10(full / law.counts)) if law.counts < 1e6 else 0
        lowest = 0.0 if test.quantity in UNSIGNED else -np.inf
        return f"{round(max(value + error, lowest), digits) + 0.0:.{max(digits, 0)}f} {unit}"

    def _volts(self, state: State, test: Test, extra: Sequence[Element]) -> float:
        red, black = self._pair(test)
        found = self._nets(state, extra)
        return found[red] - found[black]

    def _current(self, state: State) -> float:
        contact = self.own.elements[SUPPLY_CONTACT]
        found = self._nets(state, [])
        return abs(found[contact.nodes[0]] - found[contact.nodes[1]]) / contact.value

    def _ohms(self, state: State, test: Test, meter: Instrument) -> float:
        """The meter's own source laid between the points: volts over the amperes that flow."""
        source = meter.ohms_source
        if source is None:
            raise ValueError(f"{meter.key} does not read ohms")
        (red, black), inside = self._pair(test), "meter!"
        volts = self._volts(state, test, [
            Element("V_meter!", "V", (inside, black), source.open_volts),
            Element("R_meter!", "R", (inside, red), source.series_ohm),
        ])  # fmt: skip
        return volts / ((source.open_volts - volts) / source.series_ohm)

    def _nets(self, state: State, extra: Sequence[Element]) -> dict[str, float]:
        elements = [*apply_faults(self.own, state, self.faults), *extra]
        nets = {net for element in elements for net in element.nodes} - {GROUND}
        held = [Element(f"R_held {net}", "R", (net, GROUND), engine_number("dangling_ohm")) for net in sorted(nets)]
        return net_voltages(self.worker, [*elements, *held])

    def _activity(self) -> ActivityPredictor:
        """The blocks, fed with the voltages that ngspice finds in this object."""

        def circuit(
            board: Board, state: State, hypotheses: Sequence[Hypothesis], pairs: Sequence[tuple[str, str]]
        ) -> Floats:
            assert (board, hypotheses) == (self.own, [self.faults])
            found = self._nets(state, [])
            return np.array([[[found[red] - found[black] for red, black in pairs]]])

        return ActivityPredictor(circuit)

    def _pair(self, test: Test) -> tuple[str, str]:
        point = self.board.points[test.point]
        return point.net, point.against

    def _own_value(self, element: Element) -> Element:
        """A value within the tolerance that the engine grants healthy parts."""
        spread, step = two_sigma(self.board, element), float(self.chance.standard_normal())
        factor = float(np.exp(spread / 2.0 * step))
        if element.kind in "RCLVI":
            return replace(element, value=element.value * factor)
        numbers = {"is": engine_number("saturation_spread"), "bv": engine_number("breakdown_spread")}
        if element.kind == "Q":
            numbers = {"bf": spread}
        moved = {key: float(np.exp(s / 2.0 * step)) for key, s in numbers.items() if key in element.model}
        return replace(element, model={**element.model, **{key: element.model[key] * f for key, f in moved.items()}})


def _load(pair: tuple[str, str], meter: Instrument) -> Element:
    return Element("R_meter!", "R", pair, meter.input_ohm)
