"""
Whether an answer of ngspice obeys the equations it was asked to solve.

ngspice calls a solution converged when two iterates agree; it does not put the solution back into the equations. Its
pivot order is chosen at the first iterate, where every junction conducts, and can be a bad one at the last. On a board
of 195 nets answers were seen in which a voltage source missed its own voltage by 85 mV, and others in which no current
balanced at a net of three resistors (own measurement, ngspice 39). Another pivot threshold cures one, spoils another.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from kilter.circuit.board import GROUND, Element
from kilter.simulate.ngspice.analyses import Point
from kilter.simulate.ngspice.names import element_name, node_name
from kilter.simulate.ngspice.settings import soundness_limits

_BRANCHES = frozenset("VLEH")
_JUNCTIONS = frozenset("DQ")


def unsound(elements: Iterable[Element], point: Point) -> str:
    """
    Why an operating point must not be used, '' when nothing speaks against it.

    Checked: the voltage that every V, E, H and L sets, and the sum of currents at every net where no junction ends.
    Not checked: the currents of diodes and transistors.

    Args:
        elements: What spice_text wrote.
        point: What the worker answered to that text.

    >>> unsound([Element("v1", "V", ("a", "0"), 5.0)], {node_name("a"): 4.9, "vv1#branch": 0.0})
    'the source v1 misses its voltage by 1.0e-01 V'
    """
    elements = list(elements)
    return next(_missed_voltages(elements, point), "") or next(_missed_currents(elements, point), "")


def _missed_voltages(elements: Iterable[Element], point: Point) -> Iterator[str]:
    allowed = soundness_limits()["source_error_v"]
    for element in elements:
        miss = abs(_across(point, element.nodes[0], element.nodes[1]) - _set_voltage(element, point))
        if element.kind in _BRANCHES and miss > allowed:
            yield f"the source {element.name} misses its voltage by {miss:.1e} V"


def _set_voltage(element: Element, point: Point) -> float:
    if element.kind == "E":
        return element.value * _across(point, element.nodes[2], element.nodes[3])
    if element.kind == "H":
        return element.value * _control_current(element, point)
    return element.value if element.kind == "V" else 0.0


def _missed_currents(elements: Iterable[Element], point: Point) -> Iterator[str]:
    limits = soundness_limits()
    balance: defaultdict[str, float] = defaultdict(float)
    traffic: defaultdict[str, float] = defaultdict(float)
    unchecked = {GROUND}
    for element in elements:
        if element.kind in _JUNCTIONS:
            unchecked.update(element.nodes)
            continue
        current = _current(element, point)
        for net, sign in zip(element.nodes[:2], (1.0, -1.0), strict=True):
            balance[net] += sign * current
            traffic[net] += abs(current)
    for net in balance.keys() - unchecked:
        if abs(balance[net]) > limits["current_error_a"] + limits["current_error_share"] * traffic[net]:
            yield f"the currents at net {net} do not balance by {abs(balance[net]):.1e} A"


def _current(element: Element, point: Point) -> float:
    """Direct current from the first net of a linear element through it to the second. [A]"""
    if element.kind in _BRANCHES:
        return point[element_name(element.kind, element.name) + "#branch"]
    if element.kind == "R":
        return _across(point, element.nodes[0], element.nodes[1]) / element.value
    if element.kind == "G":
        return element.value * _across(point, element.nodes[2], element.nodes[3])
    if element.kind == "F":
        return element.value * _control_current(element, point)
    return element.value if element.kind == "I" else 0.0


def _control_current(element: Element, point: Point) -> float:
    return point[element_name("V", element.control) + "#branch"]


def _across(point: Point, net: str, other: str) -> float:
    return _volts(point, net) - _volts(point, other)


def _volts(point: Point, net: str) -> float:
    return 0.0 if net == GROUND else point[node_name(net)]
