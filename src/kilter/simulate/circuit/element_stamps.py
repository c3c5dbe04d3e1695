"""What each kind of element adds to the draft of the equations: its parameters and their stamps."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from kilter.circuit.board import GROUND, Element
from kilter.simulate.circuit.constants import engine_number, thermal_voltage
from kilter.simulate.circuit.draft import Draft, Key
from kilter.simulate.circuit.junctions import one_ampere_voltage, transistor_currents

DYNAMIC = frozenset(
    (
        "cjo",
        "cj0",
        "cje",
        "cjc",
        "cjs",
        "tf",
        "tr",
        "tt",
        "vj",
        "vje",
        "vjc",
        "m",
        "mje",
        "mjc",
        "fc",
        "xtb",
        "xti",
        "eg",
    )
)
"""Model numbers that a direct-current answer at one temperature does not need."""

DIODE_NUMBERS = frozenset(("is", "n", "bv", "ibv", "rs"))
TRANSISTOR_NUMBERS = frozenset(
    ("is", "bf", "br", "nf", "nr", "vaf", "var", "ikf", "ikr", "ise", "ne", "isc", "nc", "polarity", "rb", "rc", "re")
)


def _resistor(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    key = draft.number(("g", element.name), 1.0 / element.value)
    draft.admittance(nodes[0], nodes[1], key, draft.matrix)
    draft.edges.append((nodes[0], nodes[1], key))


def _capacitor(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    key = draft.number(("c", element.name), element.value)
    draft.admittance(nodes[0], nodes[1], key, draft.reactive)


def _inductor(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    key = draft.number(("g", element.name), 1.0 / engine_number("coil_ohm"))
    draft.number(("l", element.name), element.value)
    draft.admittance(nodes[0], nodes[1], key, draft.matrix)
    draft.edges.append((nodes[0], nodes[1], key))


def _diode(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    model = element.model
    saturation = model["is"] * element.value
    emission = thermal_voltage() * model.get("n", 1.0)
    key = draft.number(("is", element.name), saturation)
    draft.number(("bv", element.name), one_ampere_voltage(model, saturation))
    draft.diodes.append((nodes[0], nodes[1], emission, key))
    draft.edges.append((nodes[0], nodes[1], key))
    _note_ignored(draft, element, DIODE_NUMBERS)


def _transistor(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    model = element.model
    vt = thermal_voltage()
    transport, forward, reverse = transistor_currents(model, element.value)
    key = draft.number(("transport", element.name), transport)
    base_emitter = draft.number(("be", element.name), forward)
    base_collector = draft.number(("bc", element.name), reverse)
    numbers = (
        model.get("polarity", 1.0),
        vt * model.get("nf", 1.0),
        vt * model.get("nr", 1.0),
        *(1.0 / (model.get(name) or np.inf) for name in ("vaf", "var", "ikf", "ikr")),
    )
    collector, base, emitter = nodes[:3]
    draft.transistors.append(((collector, base, emitter), numbers, key))
    for name, far, emission in (("ise", emitter, model.get("ne", 1.5)), ("isc", collector, model.get("nc", 2.0))):
        if model.get(name):
            leak = draft.number((name, element.name), model[name] * element.value)
            draft.number(("bv", element.name, name), np.inf)
            ends = (base, far) if numbers[0] > 0 else (far, base)
            draft.diodes.append((*ends, vt * emission, leak))
    draft.edges += [(base, emitter, base_emitter), (base, collector, base_collector), (collector, emitter, key)]
    _note_ignored(draft, element, TRANSISTOR_NUMBERS)


def _voltage(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:
    if not powered:
        return
    branch = _branch(draft, element.name, nodes)
    draft.sources.append((branch, draft.number(("v", element.name), element.value), 1.0))
    draft.edges.append((nodes[0], nodes[1], ("one",)))


def _controlled_voltage(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:
    if not powered:
        return
    branch = _branch(draft, element.name, nodes)
    gain = draft.number(("gain", element.name), element.value)
    if element.kind == "E":
        draft.matrix += [(branch, nodes[2], gain, -1.0), (branch, nodes[3], gain, 1.0)]
    else:
        draft.matrix.append((branch, ("branch", element.control), gain, -1.0))
    draft.edges.append((nodes[0], nodes[1], ("one",)))


def _branch(draft: Draft, name: str, nodes: tuple[str, ...]) -> Key:
    draft.branches[name] = len(draft.branches)
    draft.branch_nodes.append((name, [node for node in nodes[:2] if node != GROUND]))
    branch, one = ("branch", name), draft.number(("one",), 1.0)
    draft.matrix += [(branch, nodes[0], one, 1.0), (branch, nodes[1], one, -1.0)]
    draft.matrix += [(nodes[0], branch, one, 1.0), (nodes[1], branch, one, -1.0)]
    return branch


def _current(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:
    if powered:
        key = draft.number(("i", element.name), element.value)
        draft.sources += [(nodes[0], key, -1.0), (nodes[1], key, 1.0)]


def _controlled_current(draft: Draft, element: Element, nodes: tuple[str, ...], powered: bool) -> None:
    if not powered:
        return
    gain = draft.number(("gain", element.name), element.value)
    if element.kind == "G":
        inputs: list[tuple[object, float]] = [(nodes[2], 1.0), (nodes[3], -1.0)]
    else:
        inputs = [(("branch", element.control), 1.0)]
    for place, sign in inputs:
        draft.matrix += [(nodes[0], place, gain, sign), (nodes[1], place, gain, -sign)]


STAMPS: Mapping[str, Callable[[Draft, Element, tuple[str, ...], bool], None]] = {
    "R": _resistor,
    "C": _capacitor,
    "L": _inductor,
    "D": _diode,
    "Q": _transistor,
    "V": _voltage,
    "I": _current,
    "E": _controlled_voltage,
    "H": _controlled_voltage,
    "G": _controlled_current,
    "F": _controlled_current,
}


def _note_ignored(draft: Draft, element: Element, known: frozenset[str]) -> None:
    dynamic = {
        "cjo",
        "cj0",
        "cje",
        "cjc",
        "tf",
        "tr",
        "tt",
        "vj",
        "vje",
        "vjc",
        "m",
        "mje",
        "mjc",
        "fc",
        "xtb",
        "xti",
        "eg",
        "kf",
        "af",
        "cjs",
    }
    left = [name for name in element.model if name not in known | dynamic]
    if left:
        draft.ignored.append(f"{element.name}: model numbers not used by the circuit engine: {', '.join(left)}")
