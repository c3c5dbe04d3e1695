"""Heat of a linear regulator: what it burns, how hot its junction gets, and what heat sink it wants."""

from __future__ import annotations

from math import inf


def dissipation(volts_in: float, volts_out: float, amperes: float, quiescent: float = 0.0) -> float:
    """
    Power that a linear regulator turns into heat. [W]

    Args:
        volts_in: Mean input. [V]
        volts_out: Output. [V]
        amperes: That the load draws. [A]
        quiescent: Current of the regulator itself. [A]

    Valid: at rest, linear regulators. Source: conservation of energy.

    >>> dissipation(13.0, 5.0, 0.5)
    4.0
    """
    return (volts_in - volts_out) * amperes + volts_in * quiescent


def junction(watts: float, ambient: float, thermal_resistance: float) -> float:
    """
    Junction temperature. [degC]

    Args:
        watts: Dissipated. [W]
        ambient: Of the air at the part. [degC]
        thermal_resistance: From junction to that air, all parts of the way together. [K/W]

    Valid: settled, the resistance being that of the part as mounted. Source: definition of thermal resistance.

    >>> junction(1.0, 25.0, 65.0)
    90.0
    """
    return ambient + watts * thermal_resistance


def wanted_resistance(watts: float, ambient: float, junction_most: float) -> float:
    """
    Highest thermal resistance from junction to air that keeps the junction at its limit. [K/W]

    >>> wanted_resistance(4.0, 25.0, 125.0)
    25.0
    """
    return (junction_most - ambient) / watts if watts > 0 else inf
