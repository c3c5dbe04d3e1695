"""ngspice as the authority on SPICE text: what it makes of numbers, expressions and whole netlists."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from kilter.measure.errors import NotAvailable
from kilter.simulate.ngspice.worker import NgspiceWorker


def node_voltages(netlist: str) -> Mapping[str, float]:
    """Node voltages by lower-case node name, from ngspice's operating point of a netlist text."""
    try:
        with NgspiceWorker() as worker:
            point = worker.operating_point(netlist)
    except NotAvailable as error:  # pragma: no cover - depends on the machine
        pytest.skip(f"ngspice is not on this machine: {error}")
    return {name.lower(): volts for name, volts in point.items() if "#" not in name}


def values_in_ngspice(texts: list[str], setting: str = "") -> list[float]:
    """What ngspice takes each text to be, read back as the current of a 1 ohm resistor's source in volts."""
    lines = ["values", *([setting] if setting else [])]
    for at, text in enumerate(texts):
        lines += [f"V{at} n{at} 0 {text}", f"R{at} n{at} 0 1"]
    volts = node_voltages("\n".join([*lines, ".op", ".end", ""]))
    return [volts[f"n{at}"] for at in range(len(texts))]
