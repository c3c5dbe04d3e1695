"""Designs built in ngspice with parts drawn at random within their tolerance, by means of our own netlist alone."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from kilter.circuit.board import Element
from kilter.safety.adaptation.netlist import design_netlist

TIGHT = ".options reltol=1e-5 vntol=1e-8 abstol=1e-13\n"


def drawn(elements: Sequence[Element], random: np.random.Generator) -> list[Element]:
    """Every value anywhere within its tolerance, every transistor's current gain within its spread."""
    found = []
    for one in elements:
        wide = one.tolerance or 0.0
        factor = float(random.uniform(1 - wide, 1 + wide))
        if one.kind == "Q":
            gain = one.model["bf"] * float(np.exp(random.uniform(-wide, wide)))
            found.append(replace(one, model={**one.model, "bf": gain}))
        else:
            found.append(replace(one, value=one.value * factor))
    return found


def netlist(elements: Sequence[Element], course: str = "") -> str:
    """For ngspice; `course` takes the place of the source's settings, as 'pwl(0 1 1u 2)'."""
    text = design_netlist("design", elements).replace(".ac dec 20 10 100meg\n", TIGHT)
    return re.sub(r"(?m)^VIN in 0 .*$", f"VIN in 0 {course}", text) if course else text


def steps(*plateaus: tuple[float, float], edge: float = 0.2e-6) -> str:
    """A course of (volts, seconds) one after the other."""
    points, now = [], 0.0
    for volts, seconds in plateaus:
        points += [f"{now:.9g} {volts:.9g}", f"{now + seconds - edge:.9g} {volts:.9g}"]
        now += seconds
    return f"pwl({' '.join(points)})"


def at(found: dict[str, np.ndarray], node: str) -> Callable[[float], float]:
    """Volts of a node by time."""
    return lambda seconds: float(np.interp(seconds, found["time"].real, found[node].real))
