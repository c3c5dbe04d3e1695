"""Small signals: the circuit linearised at each lane's operating point, at one frequency."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import Board
from kilter.simulate.circuit import junction_lanes, numpy_lanes
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import Equations

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]


def small_signal(board: Board, equations: Equations, parameters: Floats, volts: Floats, hertz: float) -> Complex:
    """
    Response of every unknown to the sources' small-signal amplitudes.

    Args:
        board: Whose V and I elements carry `ac` amplitudes. [V, A]
        equations: Powered.
        parameters: One column per lane, shape (n_parameters, L).
        volts: Operating points in pivot order with ground last. [V], shape (n + 1, L)
        hertz: Frequency. [Hz]

    Returns:
        Phasors with the amplitudes' meaning (peak or rms as they are), NaN where the currents at some net do not sum
        to nothing, shape (n + 1, L).
    """
    omega = 2.0 * pi * hertz
    flat, _ = numpy_lanes.linear_part(equations, parameters)
    unused = np.zeros((equations.lu.size + 1, parameters.shape[1]))
    junction_lanes.stamp_conductances(equations, parameters, volts, flat, unused)
    matrix = flat.astype(np.complex128)
    for slot, number, sign in zip(*equations.reactive_stamps, strict=True):
        matrix[slot] += 1j * omega * sign * parameters[number]
    for name, place in _coils(equations):
        _coil(equations, matrix, parameters, name, place, omega)
    drive = np.zeros((equations.lu.size + 1, parameters.shape[1]), dtype=np.complex128)
    amplitudes = {("v", e.name): e.ac for e in board.elements.values() if e.kind == "V"}
    amplitudes |= {("i", e.name): e.ac for e in board.elements.values() if e.kind == "I"}
    by_number = {equations.parameter[key]: ac for key, ac in amplitudes.items() if key in equations.parameter}
    for row, number, sign in zip(*equations.source_stamps, strict=True):
        drive[row] += sign * by_number.get(int(number), 0.0)
    with np.errstate(all="ignore"):  # a lane without a solution has no finite one, and so does not pass
        phasors = numpy_lanes.solve(equations.lu, matrix.copy(), drive.copy())
        passed = _residual_passes(equations, matrix, drive, phasors)
    return np.where(passed, phasors, np.nan)


def _residual_passes(equations: Equations, matrix: Complex, drive: Complex, phasors: Complex) -> NDArray[np.bool_]:
    """Whether each row's currents sum to nothing, given what flows there, shape (L,)."""
    flows = matrix[equations.entry_slot] * phasors[equations.entry_column]
    total, size = -drive, np.abs(drive)
    np.add.at(total, equations.entry_row, flows)
    np.add.at(size, equations.entry_row, np.abs(flows))
    limit = engine_number("residual_share") * size + engine_number("small_signal_share") * size.max(axis=0)
    return np.asarray((np.abs(total) <= limit)[:-1].all(axis=0))


def _coils(equations: Equations) -> list[tuple[str, int]]:
    return [(key[1], number) for key, number in equations.parameter.items() if key[0] == "l"]


def _coil(equations: Equations, matrix: Complex, parameters: Floats, name: str, inductance: int, omega: float) -> None:
    """Put the impedance of a coil in series with the resistance that stands for it at zero frequency."""
    number = equations.parameter["g", name]
    flat = parameters[number]
    with np.errstate(divide="ignore", invalid="ignore"):
        full = np.where(flat > 0.0, 1.0 / (1.0 / flat + 1j * omega * parameters[inductance]), 0.0)
    for slot, stamped, sign in zip(*equations.matrix_stamps, strict=True):
        if stamped == number:
            matrix[slot] += sign * (full - flat)
