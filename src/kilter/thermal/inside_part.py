"""What a surface hides: its true temperature behind a low emissivity, and the junction inside a package."""

from __future__ import annotations

import math

from kilter.measure.errors import OutOfRange
from kilter.thermal.figures import Surface, number
from kilter.thermal.units import ZERO

Span = tuple[float, float]
"""Least and most."""


def true_celsius(apparent: float, emissivity: float, surroundings: float) -> float:
    """
    Temperature of a grey surface that a camera set to emissivity 1 shows as `apparent`. [degC]

    What is sent out grows with the fourth power of the temperature; what the surface does not send it mirrors from
    the surroundings. Over all wavelengths: a camera that sees some of them only follows a law somewhat different.

    Raises:
        OutOfRange: Emissivity not above 0 and up to 1, or a surface that would have to be colder than nothing.

    >>> round(true_celsius(56.8, 0.9, 23.0), 1)
    60.0
    """
    seen, room = apparent + ZERO, surroundings + ZERO
    if not 0 < emissivity <= 1:
        raise OutOfRange("Cannot correct a temperature", f"an emissivity of {emissivity:g}", "above 0, up to 1",
                         "Give the emissivity of the surface.")  # fmt: skip
    fourth = (seen**4 - (1 - emissivity) * room**4) / emissivity
    if fourth <= 0 or seen <= 0 or room <= 0:
        raise OutOfRange("Cannot correct a temperature", f"{apparent:g} degC in a room of {surroundings:g} degC",
                         f"values that a surface of emissivity {emissivity:g} can show",
                         "Check the temperatures, or read the part with a contact thermometer.")  # fmt: skip
    return float(fourth**0.25 - ZERO)


def true_span(apparent: float, surface: Surface, surroundings: float) -> Span:
    """Least and most true temperature behind a surface whose emissivity is known within limits only. [degC]"""
    ends = [true_celsius(apparent, e, surroundings) for e in (surface.low, surface.high)]
    return min(ends), max(ends)


def junction_span(top: float, watts: float, psi: Span | None = None) -> Span:
    """
    Least and most temperature of the junction in a package. [degC]

    Args:
        top: Of the package's top. [degC]
        watts: That the part takes and does not pass on. [W]
        psi: Junction to top (psi JT, not theta JC), least and most; without it that of old through-hole packages. [K/W]

    Source: T_J = T_top + psi_JT * P (definition, JESD51 series).

    >>> [round(t, 2) for t in junction_span(95.26, 0.51, (6.1, 6.1))]
    [98.37, 98.37]
    """
    low, high = psi or (number("psi_low"), number("psi_high"))
    if not (0 <= low <= high < math.inf and 0 <= watts < math.inf and math.isfinite(top)):
        raise OutOfRange("Cannot estimate a junction's temperature", f"{watts:g} W and {low:g} to {high:g} K/W",
                         "finite numbers of 0 or more", "Give the power that the part takes.")  # fmt: skip
    return top + low * watts, top + high * watts
