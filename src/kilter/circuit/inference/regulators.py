"""Regulators with a fixed voltage: what they make, and whether that is what their output net is called."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from kilter.circuit.board import GROUND, Board
from kilter.circuit.inference.inference import DOUBT, Inference
from kilter.circuit.inference.names import voltage_of

FIXED = re.compile(r"7(?P<sign>[89])[LMT]?(?P<volts>05|06|08|09|10|12|15|18|24)(?!\d)")


def fixed_voltage(value: str) -> float | None:
    """
    The output of a regulator whose type tells it. [V]

    >>> fixed_voltage("LM7805CT"), fixed_voltage("79L12"), fixed_voltage("LM317")
    (5.0, -12.0, None)
    """
    match = FIXED.search(value.upper().replace(" ", ""))
    if not match:
        return None
    return float(match["volts"]) * (1 if match["sign"] == "8" else -1)


def made_by(board: Board) -> dict[str, tuple[str, float]]:
    """Net to the fixed regulator that feeds it and its voltage; regulators lifted off ground are left out. [V]"""
    found: dict[str, tuple[str, float]] = {}
    for part in board.parts.values():
        volts = fixed_voltage(part.value) if part.kind == "regulator" else None
        if volts is not None and "out" in part.pins and part.pins.get("gnd") == GROUND:
            found[part.pins["out"]] = (part.ref, volts)
    return found


def regulators(board: Board, made: Mapping[str, tuple[str, float]]) -> Iterator[Inference]:
    """What each regulator makes on which net, and whether the net is called something else."""
    for net, (ref, volts) in made.items():
        named = voltage_of(net)
        what = f"{ref} ({board.parts[ref].value})"
        if named is not None and named != volts:
            yield Inference("regulator", (ref, net), f"{what} makes {volts:g} V, but its output is on the net {net}: "
                            "another type or another name?", DOUBT)  # fmt: skip
        else:
            yield Inference("regulator", (ref, net), f"{what} is taken to make {volts:g} V on {net}.")
