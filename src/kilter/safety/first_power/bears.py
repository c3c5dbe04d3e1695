"""What each part bears at most, and whether somebody said so or it is assumed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kilter.circuit.board import Board
from kilter.safety.first_power.numbers import number, numbers
from kilter.safety.first_power.stress import Load


@dataclass(frozen=True)
class Bears:
    """
    Limits of one part.

    Args:
        watts: Heat, None where the kind is not judged by it. [W]
        volts: Across a capacitor. [V]
        amps: Through a diode, coil or lamp. [A]
        assumed: Whether any of them is the usual type's and not this part's own.
    """

    watts: float | None = None
    volts: float | None = None
    amps: float | None = None
    assumed: bool = False


def bears(board: Board, healthy: Mapping[str, Load]) -> dict[str, Bears]:
    """
    The limits of every part that can be judged.

    Args:
        board: Whose parts may state `limits`.
        healthy: What each part bears on the healthy board at full supply.

    A part without a stated limit is taken as the smallest usual type of its kind, or, where it works harder than that
    already, as made for somewhat more than it bears.
    """
    found = {}
    for ref, load in healthy.items():
        part = board.parts[ref]
        usual = numbers()["kinds"].get(part.kind, {})
        limits: dict[str, float | None] = {}
        assumed = False
        for key, now in (("watts", load.watts), ("volts", load.volts), ("amps", load.amps)):
            stated = part.limits.get(key)
            if stated is None and (key in usual or (key == "volts" and load.is_capacitor)):
                stated, assumed = max(float(usual.get(key, 0.0)), number("bears", "headroom") * now), True
            limits[key] = stated or None
        found[ref] = Bears(limits["watts"], limits["volts"], limits["amps"], assumed)
    return found
