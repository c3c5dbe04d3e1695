"""
Junction models: the Shockley diode with breakdown and the transport form of the Ebers-Moll transistor.

Source: Antognetti and Massobrio, Semiconductor Device Modeling with SPICE, chapters 1 and 2 (from memory); checked
against ngspice in the tests.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, inf, isfinite, log

from kilter.simulate.circuit.constants import thermal_voltage


def breakdown_voltage(model: Mapping[str, float], saturation: float) -> float:
    """
    The voltage at which the exponential of breakdown starts, so that the diode carries IBV at BV; its slope is
    that of the forward branch. [V]

    Args:
        model: With 'bv', 'ibv' and 'n', positive. [V, A, 1]
        saturation: IS times area. [A]

    >>> round(breakdown_voltage({"bv": 5.1, "ibv": 5e-3}, 1e-14), 3)
    4.403
    """
    wanted, current = model.get("bv", inf), model.get("ibv", 1e-3)
    vt = thermal_voltage() * model.get("n", 1.0)
    if not isfinite(wanted):
        return inf
    if current < saturation * wanted / vt:
        return wanted
    found = wanted
    for _ in range(25):
        found = wanted - vt * log(current / saturation + 1.0 - found / vt)
        reached = saturation * (exp((wanted - found) / vt) - 1.0 + found / vt)
        if abs(reached - current) <= 1e-9 * current:
            break
    return found


def one_ampere_voltage(model: Mapping[str, float], saturation: float) -> float:
    """The reverse voltage at which the exponential of breakdown alone reaches 1 A; a number free of IS. [V]"""
    start = breakdown_voltage(model, saturation)
    return start - thermal_voltage() * model.get("n", 1.0) * log(saturation) if isfinite(start) else inf


def transistor_currents(model: Mapping[str, float], area: float) -> tuple[float, float, float]:
    """Transport, base-emitter and base-collector saturation currents: IS, IS/BF, IS/BR. [A]"""
    transport = model["is"] * area
    return transport, transport / model["bf"], transport / model["br"]


def open_transistor(terminal: str, forward: float, reverse: float, transport: float) -> tuple[float, float, float]:
    """
    The same three currents once one terminal carries none.

    What is left is one diode, or nothing: with the emitter open the collector junction has the saturation current
    IS/BR + IS/(BF + 1), with the collector open the emitter junction IS/BF + IS/(BR + 1); with the base open the
    leakage is of the order of IS and is taken as none.

    Args:
        terminal: 'c', 'b' or 'e'.
        forward: IS/BF. [A]
        reverse: IS/BR. [A]
        transport: IS. [A]
    """
    if terminal == "b" or transport == 0.0:
        return 0.0, 0.0, 0.0
    if terminal == "e":
        return 0.0, 0.0, reverse + forward * transport / (forward + transport)
    return 0.0, forward + reverse * transport / (reverse + transport), 0.0
