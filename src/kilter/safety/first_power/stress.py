"""
What every part bears at an operating point: heat, voltage and current, from the volts at its pins.

Currents of junctions follow from the same equations that the engine solves; see simulate/circuit/junctions.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from kilter.circuit.board import Board, Element
from kilter.simulate.circuit.constants import thermal_voltage
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.junction_lanes import diode_current, transistor_current
from kilter.simulate.circuit.junctions import one_ampere_voltage, transistor_currents
from kilter.simulate.prediction import Floats

KNOWN = frozenset("RCDQL")
"""Kinds of element that belong to parts and can be judged."""


@dataclass(frozen=True)
class Load:
    """What one part bears, the worst of the lanes. [W, V, A]"""

    watts: float
    volts: float
    amps: float
    is_capacitor: bool = False


@dataclass(frozen=True)
class Loads:
    """The same in every lane, each shape (lanes,)."""

    watts: Floats
    volts: Floats
    amps: Floats
    is_capacitor: bool

    def worst(self) -> Load:
        """The largest of each over the lanes that settled."""
        watts, volts, amps = (float(np.nanmax(one, initial=0.0)) for one in (self.watts, self.volts, self.amps))
        return Load(watts, volts, amps, self.is_capacitor)


def loads(board: Board, equations: Equations, volts: Floats) -> dict[str, Loads]:
    """
    What every part with a circuit of its own bears, at nominal values.

    Args:
        board: With elements.
        equations: Of the powered board.
        volts: Unknowns in pivot order, shape (n + 1, lanes); NaN in lanes that did not settle.
    """
    found: dict[str, Loads] = {}
    for element in board.elements.values():
        if not element.part or element.kind not in KNOWN or element.stands_for_chip:
            continue
        watts, across, amps = _of_element(element, equations, volts)
        before = found.get(element.part)
        if before is not None:
            watts = before.watts + watts
            across, amps = np.maximum(before.volts, across), np.maximum(before.amps, amps)
        found[element.part] = Loads(watts, across, amps, element.kind == "C" and before is None)
    return found


def _of_element(element: Element, equations: Equations, volts: Floats) -> tuple[Floats, Floats, Floats]:
    """Heat, voltage across the first two pins and largest current of one element, each shape (lanes,)."""
    at = [volts[equations.node_place[node]] for node in element.nodes]
    across = np.abs(at[0] - at[1])
    if element.kind == "R":
        return across**2 / element.value, across, across / element.value
    if element.kind == "D":
        amps = _diode(element.model, element.value, at[0] - at[1])
        return np.abs(amps) * across, across, np.abs(amps)
    if element.kind == "Q":
        collector, base = transistor_amps(element.model, element.value, at)
        heat = np.abs(collector * (at[0] - at[2]) + base * (at[1] - at[2]))
        return heat, np.abs(at[0] - at[2]), np.abs(collector)
    return np.zeros_like(across), across, np.zeros_like(across)


def _diode(model: Mapping[str, float], area: float, across: Floats) -> Floats:
    saturation = model["is"] * area
    vt = thermal_voltage() * model.get("n", 1.0)
    return diode_current(np.array(saturation), np.array(one_ampere_voltage(model, saturation)), np.array(vt), across)[0]


def transistor_amps(model: Mapping[str, float], area: float, at: list[Floats]) -> tuple[Floats, Floats]:
    """Collector and base current into the part. [A]"""
    vt, sign = thermal_voltage(), model.get("polarity", 1.0)
    numbers = np.array([[sign, vt * model.get("nf", 1.0), vt * model.get("nr", 1.0),
                         *(1.0 / (model.get(name) or np.inf) for name in ("vaf", "var", "ikf", "ikr"))]])  # fmt: skip
    transport, forward, reverse = (np.full((1, at[0].size), one) for one in transistor_currents(model, area))
    base_emitter, base_collector = (sign * (at[1] - at[2]))[None], (sign * (at[1] - at[0]))[None]
    found = transistor_current(numbers, transport, forward, reverse, base_emitter, base_collector)
    return sign * found[0][0], sign * found[1][0]
