"""Stored charge: the energy in a capacitor, and how long a resistor takes to bring it down."""

from __future__ import annotations

from math import inf, log

from kilter.measure.errors import OutOfRange


def energy(farads: float, volts: float) -> float:
    """
    Energy of a charged capacitor, C V²/2. [J]

    >>> round(energy(1000e-6, 400.0), 1)
    80.0
    """
    return 0.5 * farads * volts**2


def discharge_seconds(farads: float, ohms: float, volts: float, until: float) -> float:
    """
    Time in which a resistor discharges a capacitor, R C ln(V0/V). [s]

    Args:
        farads: Capacitance at the top of its tolerance. [F]
        ohms: Of the resistor. [ohm]
        volts: At the beginning. [V]
        until: At which it ends. [V]

    Raises:
        OutOfRange: An end voltage of 0, which is never reached, or numbers that are not above 0.

    Valid: nothing else feeds or drains it. Dielectric absorption brings some volts back after a short: measure again.
    Source: closed form of an RC discharge.

    >>> round(discharge_seconds(470e-6, 10e3, 400.0, 50.0), 1)
    9.8
    """
    if min(farads, ohms, volts, until) <= 0 or max(farads, ohms, volts, until) == inf:
        raise OutOfRange(
            "Cannot work out a discharge", f"{farads:g} F, {ohms:g} ohm, from {volts:g} V to {until:g} V",
            "finite numbers above 0", "Correct them; a resistor never brings a capacitor to 0 V.",
        )  # fmt: skip
    return max(ohms * farads * log(volts / until), 0.0)


def resistor_watts(ohms: float, volts: float) -> float:
    """Power in the discharging resistor at the first moment, V²/R. [W]"""
    return volts**2 / ohms
