"""
An object on the bench that is not our engine: ngspice says what a meter shows, noise and slips are added.

One object is one board built from its own tolerance draws, with faults in it whose sizes may differ from those that
the part kinds data give. The meter is laid on the one place that is read; nothing else loads the board.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from kilter.circuit.board import GROUND, Board, Element, State
from kilter.measure.instruments import Instrument, instrument
from kilter.parts.kinds import Change
from kilter.records.part import Part
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.evidence_of import width_of
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.faults import apply_changes, circuit_changes
from kilter.simulate.circuit.meter import shown
from kilter.simulate.ngspice.checked import net_voltages, sound_point
from kilter.simulate.ngspice.names import element_name
from kilter.simulate.ngspice.worker import NgspiceWorker
from kilter.simulate.prediction import Fault, Hypothesis

PROBE = "meter~"
"""Net inside the meter."""

DRIFT_EXPONENT_SD, BRIDGE_LOG_SD = 0.3, 0.7
"""Spread of fault sizes where they are drawn: of log(exponent) of a drift factor, and of log(ohm) of a bridge."""


@dataclass
class BenchObject:
    """
    One faulty object.

    Args:
        worker: A started ngspice.
        board: With the values of this object's own parts.
        faults: What is wrong with it.
        seed: Of everything random about its readings.
        gross: Share of readings that are grossly wrong.
        sizes: Whether the faults have sizes of their own, not those of the part kinds data.
    """

    worker: NgspiceWorker
    board: Board
    faults: Hypothesis
    seed: tuple[int, ...]
    gross: float = 0.015
    sizes: bool = False
    gross_readings: int = 0
    _times: dict[tuple[str, str, str], int] = field(default_factory=dict)

    def value(self, test: Test, state: State, faults: Hypothesis | None = None) -> float:
        """What a perfect instrument of that class shows. [the quantity's unit]"""
        elements = self._elements(state, self.faults if faults is None else faults)
        if test.quantity == "current":
            point = sound_point(self.worker, [*elements, *_held(elements)])
            return abs(point[element_name("V", test.point) + "#branch"])
        place = self.board.points[test.point]
        meter = instrument(test.instrument)
        added = _laid(meter, test, place.net, place.against)
        volts = net_voltages(self.worker, [*elements, *added, *_held([*elements, *added])])
        across = volts[place.net] - volts[place.against]
        if test.quantity == "voltage":
            return across
        source = meter.diode_source if test.quantity == "diode" else meter.ohms_source
        assert source is not None
        return float(shown(np.array(across), source, diode=test.quantity == "diode"))

    def read(self, test: Test, state: State, plain: str) -> Reading:
        """
        What the person writes down.

        Args:
            test: What is read, and with what.
            state: As the object stands.
            plain: The board's own name of that state.
        """
        key = (test.point, test.quantity, state.name)
        again = self._times[key] = self._times.get(key, 0) + 1
        random = np.random.default_rng([*self.seed, again, *"/".join(key).encode()])
        meter, value = instrument(test.instrument), self.value(test, state)
        noise = random.standard_normal()
        if random.random() < self.gross:
            self.gross_readings += 1
            value = self._slip(test, state, random)
        if np.isfinite(value):
            value += noise * meter.standard_uncertainty(test.quantity, value)
            value = max(value, 0.0) if test.quantity == "resistance" else value
        uncertainty = meter.standard_uncertainty(test.quantity, value) if np.isfinite(value) else 0.0
        return Reading(test.point, test.quantity, value, "", uncertainty, plain, test.instrument)

    def _slip(self, test: Test, state: State, random: np.random.Generator) -> float:
        """A slipped probe, which reads another point; or nonsense within what the board's supplies span."""
        others = [name for name, point in self.board.points.items() if point.reachable and name != test.point]
        others = [name for name in others if self.board.points[name].net in _nets(self._elements(state, frozenset()))]
        if test.quantity != "current" and random.random() < 0.5:
            return self.value(replace(test, point=str(random.choice(others))), state)
        if test.quantity == "voltage":
            return float(random.uniform(-0.1, 0.8) * width_of(self.board, "voltage"))
        return float(10.0 ** random.uniform(0.0, 6.0)) if test.quantity == "resistance" else float(random.uniform(0, 2))

    def _elements(self, state: State, faults: Hypothesis) -> list[Element]:
        wanted = circuit_changes(self.board, state, faults)
        return apply_changes(self.board, state, [self._sized(*one) for one in wanted] if self.sizes else wanted)

    def _sized(self, part: Part, change: Change) -> tuple[Part, Change]:
        z = np.random.default_rng([*self.seed, 77, *part.ref.encode()]).standard_normal()
        if change.verb == "scale":
            return part, replace(change, amount=change.amount ** float(np.exp(DRIFT_EXPONENT_SD * z)))
        if change.verb == "bridge":
            return part, replace(change, amount=change.amount * float(np.exp(BRIDGE_LOG_SD * z)))
        return part, change


def _laid(meter: Instrument, test: Test, red: str, black: str) -> list[Element]:
    """The meter between its two leads."""
    if test.quantity == "voltage":
        return [Element("R_meter~", "R", (red, black), meter.loading_ohm(10.0))]
    source = meter.diode_source if test.quantity == "diode" else meter.ohms_source
    assert source is not None
    volts = source.open_volts if source.red_positive else -source.open_volts
    return [
        Element("V_meter~", "V", (PROBE, black), volts),
        Element("R_meter~", "R", (PROBE, red), source.series_ohm),
    ]


def _nets(elements: Sequence[Element]) -> set[str]:
    return {net for element in elements for net in element.nodes} - {GROUND}


def _held(elements: Sequence[Element]) -> list[Element]:
    """A resistance from every net to ground, far above any leakage: ngspice wants a defined voltage everywhere."""
    ohm = engine_number("dangling_ohm")
    return [Element(f"R_held~{net}", "R", (net, GROUND), ohm) for net in sorted(_nets(elements))]


def single(fault: Fault) -> Hypothesis:
    """One fault alone."""
    return frozenset({fault})
