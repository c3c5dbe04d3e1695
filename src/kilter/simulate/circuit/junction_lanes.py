"""
Junctions of many lanes at once, in numpy: their currents, and what they add to Newton's equations.

The models are those of `kilter.simulate.circuit.junctions`; arrays have the lanes last.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import Equations

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

STEEP = 150.0
"""Largest exponent handed to exp; limiting keeps junctions far below it."""

MOST_AMPERES = 1e4
"""No junction of a model with series resistances ends up above this; voltages that would mean more are cut. [A]"""


def junction_volts(equations: Equations, volts: Floats) -> list[Floats]:
    """Junction voltages at the start: diodes, base-emitter, base-collector."""
    a, k = equations.diodes.T
    c, b, e = equations.transistors.T
    polarity = equations.transistor_numbers[:, :1]
    return [volts[a] - volts[k], polarity * (volts[b] - volts[e]), polarity * (volts[b] - volts[c])]


def junction_numbers(equations: Equations, parameters: Floats) -> list[Floats]:
    """Diodes: saturation, volts at one ampere of breakdown; transistors: transport, forward and reverse saturation."""
    diode, transistor = equations.diode_parameter, equations.transistor_parameter
    return [parameters[rows] for rows in (diode, diode + 1, transistor, transistor + 1, transistor + 2)]


def stamp_junctions(
    equations: Equations, numbers: list[Floats], volts: Floats, last: list[Floats], matrix: Floats, sources: Floats
) -> Flags:
    """
    Add the linearised junctions; `last` is moved to the voltages used. Returns lanes in which one was limited.

    Args:
        numbers: Of these lanes, from `junction_numbers`.
    """
    limited = [np.zeros(volts.shape[1], dtype=bool)]
    wanted = junction_volts(equations, volts)
    if len(equations.diodes):
        limited.append(_stamp_diodes(equations, numbers[:2], wanted[0], last, matrix, sources))
    if len(equations.transistors):
        limited.append(_stamp_transistors(equations, numbers[2:], wanted, last, matrix, sources))
    return np.asarray(np.logical_or.reduce(limited))


def stamp_conductances(
    equations: Equations, parameters: Floats, volts: Floats, matrix: Floats, sources: Floats
) -> None:
    """Add the slopes of all junctions at an operating point, without limiting."""
    numbers = junction_numbers(equations, parameters)
    stamp_junctions(equations, numbers, volts, junction_volts(equations, volts), matrix, sources)


def diode_current(saturation: Floats, one_ampere: Floats, vt: Floats, volts: Floats) -> tuple[Floats, Floats]:
    """Current and conductance of junctions with breakdown. [A, S]"""
    shunt = engine_number("junction_shunt_s")
    forward = saturation * np.exp(np.minimum(volts / vt, STEEP))
    reverse = np.exp(np.minimum(-(volts + one_ampere) / vt, STEEP))
    return forward - saturation - reverse + shunt * volts, (forward + reverse) / vt + shunt


def _stamp_diodes(
    equations: Equations, parameters: list[Floats], wanted: Floats, last: list[Floats], matrix: Floats, sources: Floats
) -> Flags:
    saturation, one_ampere = parameters
    vt = equations.diode_vt[:, None]
    volts, limited = _limit(wanted, last[0], vt, saturation)
    mirrored = -(wanted + one_ampere)
    back, back_limited = _limit(mirrored, -(last[0] + one_ampere), vt, np.ones_like(saturation))
    in_breakdown = np.isfinite(one_ampere) & (mirrored > -30 * vt)
    volts = np.where(in_breakdown, -back - np.where(in_breakdown, one_ampere, 0.0), volts)
    limited = np.where(in_breakdown, back_limited, limited)
    last[0] = volts
    current, conductance = diode_current(saturation, one_ampere, vt, volts)
    constant = current - conductance * volts
    for row, (slots, places) in enumerate(zip(equations.diode_slots, equations.diode_rows, strict=True)):
        g = conductance[row]
        matrix[slots[0]] += g
        matrix[slots[3]] += g
        matrix[slots[1]] -= g
        matrix[slots[2]] -= g
        sources[places[0]] -= constant[row]
        sources[places[1]] += constant[row]
    return np.asarray(limited.any(axis=0))


def transistor_current(
    numbers: Floats, transport: Floats, forward: Floats, reverse: Floats, vbe: Floats, vbc: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """Collector and base current and their slopes against vbe and vbc: ic, ib, ic/be, ic/bc, ib/be, ib/bc."""
    shunt = engine_number("junction_shunt_s")
    vtf, vtr, early, late, knee_f, knee_r = (numbers[:, column : column + 1] for column in range(1, 7))
    ef, er = np.exp(np.minimum(vbe / vtf, STEEP)), np.exp(np.minimum(vbc / vtr, STEEP))
    root = np.sqrt(1.0 + 4.0 * transport * np.maximum((ef - 1.0) * knee_f + (er - 1.0) * knee_r, 0.0))
    width = (1.0 - vbc * early - vbe * late) * 2.0 / (1.0 + root)
    net = transport * (ef - er)
    squeeze = -2.0 * net * width / (root * (1.0 + root))
    base_e = forward * (ef - 1.0) + shunt * vbe
    base_c = reverse * (er - 1.0) + shunt * vbc
    slope_e, slope_c = forward * ef / vtf + shunt, reverse * er / vtr + shunt
    level = 2.0 / (1.0 + root)
    ic_be = transport * ef / vtf * (width + squeeze * knee_f) - net * late * level
    ic_bc = transport * er / vtr * (squeeze * knee_r - width) - net * early * level - slope_c
    return net * width - base_c, base_e + base_c, ic_be, ic_bc, slope_e, slope_c


def _stamp_transistors(
    equations: Equations,
    parameters: list[Floats],
    wanted: list[Floats],
    last: list[Floats],
    matrix: Floats,
    sources: Floats,
) -> Flags:
    transport, forward, reverse = parameters
    numbers = equations.transistor_numbers
    vbe, limited_e = _limit(wanted[1], last[1], numbers[:, 1:2], np.maximum(transport, forward))
    vbc, limited_c = _limit(wanted[2], last[2], numbers[:, 2:3], np.maximum(transport, reverse))
    last[1], last[2] = vbe, vbc
    ic, ib, c_be, c_bc, b_be, b_bc = transistor_current(numbers, transport, forward, reverse, vbe, vbc)
    constant_c = numbers[:, :1] * (ic - c_be * vbe - c_bc * vbc)
    constant_b = numbers[:, :1] * (ib - b_be * vbe - b_bc * vbc)
    for row, (slots, places) in enumerate(zip(equations.transistor_slots, equations.transistor_rows, strict=True)):
        by_terminal = (-c_bc[row], c_be[row] + c_bc[row], -c_be[row], -b_bc[row], b_be[row] + b_bc[row], -b_be[row])
        for column in range(3):
            matrix[slots[column]] += by_terminal[column]
            matrix[slots[3 + column]] += by_terminal[3 + column]
            matrix[slots[6 + column]] -= by_terminal[column] + by_terminal[3 + column]
        sources[places[0]] -= constant_c[row]
        sources[places[1]] -= constant_b[row]
        sources[places[2]] += constant_c[row] + constant_b[row]
    return np.asarray((limited_e | limited_c).any(axis=0))


def _limit(wanted: Floats, last: Floats, vt: Floats, saturation: Floats) -> tuple[Floats, Flags]:
    """
    Keep a junction from leaping up its exponential, and bring it down at once from where no board could hold it.

    The first is the usual logarithmic limit of SPICE2 (from memory). The second is needed when a fault moves the
    exponential under a junction: Newton's method would come down it in steps of vt.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        critical = vt * np.log(vt / (np.sqrt(2.0) * saturation))
        ceiling = critical + vt * np.log(np.sqrt(2.0) * MOST_AMPERES / vt)
        leap = (wanted > critical) & (np.abs(wanted - last) > 2.0 * vt) & (saturation > 0.0)
        grow = 1.0 + (wanted - last) / vt
        from_on = np.where(grow > 0.0, last + vt * np.log(grow), critical)
        from_off = vt * np.log(wanted / vt)
        held = np.where(last > 0.0, from_on, np.where(wanted > 0.0, from_off, critical))
        held = np.where(leap, held, wanted)
        above = (held > ceiling) & (saturation > 0.0)
    return np.where(above, ceiling, held), leap | above


def junction_currents(
    equations: Equations, parameters: Floats, volts: Floats
) -> list[tuple[NDArray[np.int64], Floats]]:
    """(rows, currents that leave there into the device) of each kind of terminal."""
    vd, vbe, vbc = junction_volts(equations, volts)
    first = equations.diode_parameter
    vt = equations.diode_vt[:, None]
    current, _ = diode_current(parameters[first], parameters[first + 1], vt, vd)
    found = [(equations.diode_rows[:, 0], current), (equations.diode_rows[:, 1], -current)]
    first, numbers = equations.transistor_parameter, equations.transistor_numbers
    ic, ib, *_ = transistor_current(numbers, parameters[first], parameters[first + 1], parameters[first + 2], vbe, vbc)
    ic, ib = numbers[:, :1] * ic, numbers[:, :1] * ib
    rows = equations.transistor_rows
    return [*found, (rows[:, 0], ic), (rows[:, 1], ib), (rows[:, 2], -ic - ib)]
