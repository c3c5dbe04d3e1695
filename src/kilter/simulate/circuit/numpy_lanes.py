"""
Newton's method over many lanes at once, in numpy: the path that needs nothing but numpy.

Every array has the lanes last, so that each step of the LU recipe is one operation on contiguous rows. Lanes that
have settled are dropped from the work at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.junction_lanes import junction_currents, junction_numbers, junction_volts, stamp_junctions
from kilter.simulate.circuit.ordering import Factorisation

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Lanes = TypeVar("Lanes", NDArray[np.float64], NDArray[np.complex128])


@dataclass(frozen=True)
class Settled:
    """
    Where the lanes ended.

    Args:
        volts: Unknowns in pivot order, then a row of zeros for ground. [V, A], shape (n + 1, L)
        settled: Lanes whose last step was small and whose residual passed, shape (L,).
        going: Lanes that ran out of steps; neither settled nor given up.
        junctions: Junction voltages of those, with which they can go on: diodes, base-emitter, base-collector.
    """

    volts: Floats
    settled: Flags
    going: NDArray[np.intp]
    junctions: list[Floats]


def settle(
    equations: Equations,
    parameters: Floats,
    start: Floats,
    *,
    steps: int | None = None,
    junctions: list[Floats] | None = None,
) -> Settled:
    """
    Solve every lane by Newton's method with junction limiting.

    Args:
        equations: Of one topology.
        parameters: One column per lane, shape (n_parameters, L).
        start: Volts to start from, shape (n + 1, L) or (n + 1, 1).
        steps: Newton steps at most; the engine's number unless given.
        junctions: Junction voltages of lanes that go on from an earlier call.
    """
    lanes = parameters.shape[1]
    volts = np.broadcast_to(start, (equations.lu.size + 1, lanes)).copy()
    matrix, sources = linear_part(equations, parameters)
    recipe = equations.lu.without(filled_slots(equations, parameters))
    alive: NDArray[np.intp] = np.arange(lanes)
    settled = np.zeros(lanes, dtype=bool)
    junctions = junction_volts(equations, volts) if junctions is None else junctions
    nonlinear = len(equations.diodes) + len(equations.transistors) > 0
    numbers = junction_numbers(equations, parameters)
    for _ in range(steps or int(engine_number("newton_steps"))):
        here, there, before = (some[:, alive] for some in (matrix, sources, volts))
        limited = stamp_junctions(equations, [part[:, alive] for part in numbers], before, junctions, here, there)
        with np.errstate(all="ignore"):
            new = solve(recipe, here, there)
            moved = np.abs(new - before) / (engine_number("settled_v") + 1e-6 * np.abs(new))
        volts[:, alive] = new
        broken: Flags = np.asarray(~np.isfinite(new).all(axis=0))
        done: Flags = np.asarray(((moved.max(axis=0) < 1.0) & ~limited) | (not nonlinear) | broken)
        settled[alive[done & ~broken]] = True
        alive = alive[~done]
        junctions = [part[:, ~done] for part in junctions]
        if not len(alive):
            break
    with np.errstate(all="ignore"):  # a lane that ran off has no finite residual, and so does not pass
        settled &= residual_passes(equations, parameters, matrix, sources, volts)
    return Settled(volts, settled, alive, junctions)


def filled_slots(equations: Equations, parameters: Floats) -> Flags:
    """Slots in which any of these lanes has anything before elimination, shape (slots + 1,)."""
    slots, numbers, _ = equations.matrix_stamps
    used = np.asarray(parameters.any(axis=1))
    filled = np.zeros(equations.lu.slots + 1, dtype=bool)
    filled[slots[used[numbers]]] = True
    filled[equations.diode_slots.ravel()] = True
    filled[equations.transistor_slots.ravel()] = True
    filled[equations.lu.pivot_slot] = True
    return filled


def linear_part(equations: Equations, parameters: Floats) -> tuple[Floats, Floats]:
    """Matrix slots and right-hand side of everything but junctions, shapes (slots + 1, L) and (n + 1, L)."""
    lanes = parameters.shape[1]
    matrix = np.zeros((equations.lu.slots + 1, lanes))
    sources = np.zeros((equations.lu.size + 1, lanes))
    _add_stamps(matrix, equations.matrix_stamps, parameters)
    _add_stamps(sources, equations.source_stamps, parameters)
    return matrix, sources


def _add_stamps(into: Floats, stamps: tuple[NDArray[np.int64], NDArray[np.int64], Floats], parameters: Floats) -> None:
    """Add sign * parameter to each slot, one row operation a stamp, skipping parameters that are 0 in every lane."""
    used = np.asarray(parameters.any(axis=1))
    for slot, number, sign in zip(*stamps, strict=True):
        if used[number]:
            into[slot] += sign * parameters[number]


def solve(lu: Factorisation, matrix: Lanes, sources: Lanes) -> Lanes:
    """LU and both triangular solves of all lanes; `matrix` and `sources` are used up. Shape (n + 1, L)."""
    for k, (pivot, below, upper, _) in enumerate(lu.plan):
        if below:
            inverse, here = 1.0 / matrix[pivot], sources[k]
            above = matrix[upper]
            for slot, row, targets in below:
                factor = matrix[slot] * inverse
                sources[row] -= factor * here
                matrix[targets] -= factor * above
    sources[lu.size] = 0.0
    for k in range(lu.size - 1, -1, -1):
        pivot, _, upper, columns = lu.plan[k]
        if len(upper):
            sources[k] -= (matrix[upper] * sources[columns]).sum(axis=0)
        sources[k] /= matrix[pivot]
    return sources


def residual_passes(equations: Equations, parameters: Floats, matrix: Floats, sources: Floats, volts: Floats) -> Flags:
    """Whether the currents at every net sum to nothing, given what flows there, shape (L,)."""
    flows = matrix[equations.entry_slot] * volts[equations.entry_column]
    total, size = -sources, np.abs(sources)
    np.add.at(total, equations.entry_row, flows)
    np.add.at(size, equations.entry_row, np.abs(flows))
    for rows, currents in junction_currents(equations, parameters, volts):
        np.add.at(total, rows, currents)
        np.add.at(size, rows, np.abs(currents))
    limit = engine_number("residual_a") + engine_number("residual_share") * size
    return np.asarray((np.abs(total) <= limit)[:-1].all(axis=0))
