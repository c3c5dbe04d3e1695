"""
The continuous-time state-variable filter of the ITC'97 benchmark set, its published faults, and objects that have them.

Values, one-sigma tolerances, hard faults and six-sigma soft faults: Kaminska et al., International Test Conference
1997, as given on the public page of the set. The page's netlist could be seen only as far as its transistor-level
op-amp, so the wiring (in tests/netlists/statevariable.cir) is from memory, and so are the op-amps: one-pole
macro-models with clamps near the rails, taken from tests/netlists/filter.cir. The 66 published transistor-level op-amp
faults therefore do not exist here; in their place stand the modes that a whole op-amp has in the part kinds data.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import GROUND, Board, Element, Point, State
from kilter.importers.load import load_board
from kilter.parts.kinds import modes_of
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.ngspice import NgspiceWorker, NotSettled
from kilter.simulate.ngspice.checked import sound_point
from kilter.simulate.ngspice.library import Numbers
from kilter.simulate.ngspice.names import node_name
from kilter.simulate.ngspice.netlist_text import spice_text
from kilter.simulate.ngspice.settings import pivot_thresholds, tight_options
from kilter.simulate.prediction import Fault, Hypothesis

NETLISTS = Path(__file__).parents[1] / "netlists"
SIGMA = {
    **dict.fromkeys(("R1", "R2", "R3", "R4", "R5"), 300 / 10e3),
    "R6": 90 / 3e3,
    "R7": 210 / 7e3,
    "C1": 0.05,
    "C2": 0.03,
}
"""Published one-sigma tolerances, relative: 300 ohm, 90 ohm, 210 ohm, 1.0 nF and 0.6 nF."""

OUTPUTS = ("hp", "bp", "lp")
NODES = ("in", "inv", "plus", "hp", "inv2", "bp", "inv3", "lp")
HERTZ = {"dc": 0.0, "200 Hz": 200.0, "796 Hz": 796.0, "3 kHz": 3e3}
"""Below, at and above the centre 1/(2 pi R C) = 796 Hz."""

GRID = (0.5, 0.65, 0.8, 1.2, 1.4, 1.7)
"""Sizes of drift that a person might write down who does not know the published ones; none of those is among them."""

METER_OHM = 10e6
INNER_SIGMA = 0.005
"""Spread of the op-amps' inner elements and of the supplies; nothing is published. (judgement)"""


@dataclass(frozen=True)
class Object:
    """One filter with one fault, and what can be read on it without any error of a meter: point and state to volts."""

    fault: Fault
    group: str
    reads: Mapping[tuple[str, str], float]


@cache
def filter_board(drifts: str = "published") -> Board:
    """
    The board, with tolerances as published and states at direct current and three frequencies.

    Args:
        drifts: Drift modes of R and C: 'published' for six sigma, 'grid' for GRID, 'kind' for those of the part kinds.
    """
    plain = _with_clamps()
    parts = {
        ref: replace(part, kind="film" if ref in ("C1", "C2") else part.kind,
                     tolerance=2 * SIGMA[ref] if ref in SIGMA else part.tolerance,
                     drifts=_drifts(ref, drifts) if ref in SIGMA else ())
        for ref, part in plain.parts.items()
    }  # fmt: skip
    elements = {e.name: replace(e, tolerance=2 * INNER_SIGMA) if e.kind in "VI" else e for e in plain.elements.values()}
    states = {name: State(name, powered=True, hertz=hertz) for name, hertz in HERTZ.items()}
    return replace(plain, parts=parts, elements=elements, states=states, points={n: Point(n, n) for n in NODES})


def _drifts(ref: str, choice: str) -> tuple[float, ...]:
    six = 6 * SIGMA[ref]
    return {"published": (1 - six, 1 + six), "grid": GRID, "kind": ()}[choice]


def _with_clamps() -> Board:
    """The netlist with the clamped op-amp in place of the linear one, whose outputs would know no supply."""
    pattern = re.compile(r"^\.subckt opamp1.*?^\.ends", re.MULTILINE | re.DOTALL)
    clamped = (NETLISTS / "filter.cir").read_text()
    card = next(line for line in clamped.splitlines() if line.startswith(".model dclamp"))
    found = pattern.search(clamped)
    assert found is not None
    text = pattern.sub(lambda _: f"{found[0]}\n{card}", (NETLISTS / "statevariable.cir").read_text())
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "statevariable.cir"
        path.write_text(text)
        return load_board(path)


def published_faults() -> dict[str, list[Fault]]:
    """
    Hard faults of R and C, soft faults of R and C at minus and plus six sigma, and those of whole op-amps.

    Supply pins of an op-amp shorted together are left out: behind ideal supplies no reading of this trial feels it.
    """
    board = filter_board()
    hard = [(ref, key) for ref in SIGMA for key in ("open", "short")]
    soft = [(ref, mode.key) for ref in SIGMA for mode in modes_of(board.parts[ref]) if mode.drift]
    chips = [ref for ref, part in board.parts.items() if part.kind == "opamp"]
    opamp = [
        (ref, mode.key) for ref in chips for mode in modes_of(board.parts[ref]) if mode.circuit and mode.key != "short"
    ]
    return {"hard": hard, "soft": soft, "op-amp": opamp}


def built(worker: NgspiceWorker, group: str, fault: Fault, generator: np.random.Generator) -> Object:
    """
    One object with healthy parts drawn as published, its fault put in, simulated by ngspice with meters laid on.

    A softly faulty part has the published value itself; every other value is normal with the published sigma.
    """
    board = filter_board()
    drawn = {name: _drawn(element, fault, group, generator) for name, element in board.elements.items()}
    faulty = replace(board, elements=drawn)
    applied: Hypothesis = frozenset({fault})
    elements = apply_faults(faulty, board.states["dc"], applied)
    elements += [Element(f"R_meter{net}", "R", (net, GROUND), METER_OHM) for net in NODES]
    point = sound_point(worker, elements)
    reads = {(net, "dc"): point[node_name(net)] for net in NODES}
    small = {name: hertz for name, hertz in HERTZ.items() if hertz}
    phasors = _phasors(worker, elements, list(small.values()))
    for place, state in enumerate(small):
        reads |= {(net, state): 2.0 * float(abs(phasors[node_name(net)][place])) for net in NODES}
    return Object(fault, group, reads)


def _phasors(worker: NgspiceWorker, elements: Sequence[Element], hertz: Sequence[float]) -> dict[str, Numbers]:
    """Small-signal response, with the first pivot threshold at which ngspice finds an operating point."""
    for pivot in pivot_thresholds():
        with suppress(NotSettled):
            return worker.ac(spice_text(elements, options={**tight_options(), "pivrel": pivot}), hertz)
    raise NotSettled(
        "Cannot simulate an object", "no operating point", "circuits that have one", "Draw another object."
    )


def _drawn(element: Element, fault: Fault, group: str, generator: np.random.Generator) -> Element:
    z = float(generator.standard_normal())
    if element.kind not in "RCVI":
        return element
    if group == "soft" and element.part == fault[0]:
        return element
    return replace(element, value=element.value * (1.0 + SIGMA.get(element.part, INNER_SIGMA) * z))


def predicted_response(hertz: NDArray[np.float64], values: Mapping[str, float]) -> dict[str, NDArray[np.complex128]]:
    """
    High-, band- and low-pass response with ideal op-amps, in closed form.

    From the three op-amp equations by hand: with b = R6/(R6+R7) and N = 1 + R3/R1 + R3/R2,
    hp = -(R3/R1) in - (R3/R2) lp + N b bp, bp = -hp/(s R4 C1), lp = -bp/(s R5 C2).
    """
    s = 2j * np.pi * hertz
    r = {key: values[key] for key in SIGMA}
    first, second = -1.0 / (s * r["R4"] * r["C1"]), -1.0 / (s * r["R5"] * r["C2"])
    share = r["R6"] / (r["R6"] + r["R7"])
    noise_gain = 1.0 + r["R3"] / r["R1"] + r["R3"] / r["R2"]
    hp = -(r["R3"] / r["R1"]) / (1.0 + r["R3"] / r["R2"] * first * second - noise_gain * share * first)
    return {"hp": hp, "bp": hp * first, "lp": hp * first * second}
