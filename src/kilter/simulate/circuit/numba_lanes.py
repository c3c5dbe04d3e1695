"""
The compiled kernel: the same Newton method as numpy_lanes, for long sweeps.

Work goes block by block: sixteen tolerance samples side by side, and for each block every hypothesis in turn, warm
from the healthy point of the same samples. A junction whose voltage has not moved since it was last evaluated is not
evaluated again, so what a fault does not reach costs next to nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.circuit import numba_kernel, numpy_lanes
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.faults import Move
from kilter.simulate.circuit.ordering import Factorisation

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


def settle(equations: Equations, parameters: Floats, start: Floats, steps: int) -> tuple[Floats, Flags]:
    """Columns of parameters from a start, as `sweep.numpy_solver`: volts (n + 1, L) and settled (L,)."""
    volts, settled = settle_all(equations, parameters, parameters, [[]], start, steps=steps)
    return volts[0], settled[0]


def settle_all(
    equations: Equations,
    parameters: Floats,
    base: Floats,
    lanes: Sequence[Sequence[Move]],
    start: Floats,
    *,
    steps: int | None = None,
) -> tuple[Floats, Flags]:
    """
    All hypotheses on all samples.

    Args:
        equations: Of one topology.
        parameters: Healthy samples, shape (n_parameters, S).
        base: The same after the moves of the state alone; `start` solves it.
        lanes: The moves of each hypothesis, the state's included.
        start: Volts of the healthy lanes, shape (n + 1, S).
        steps: Newton steps at most; the engine's number unless given.

    Returns:
        Volts, shape (H, n + 1, S), and settled, shape (H, S), the residual checked.
    """
    samples = parameters.shape[1]
    padded = -(-samples // numba_kernel.LANES) * numba_kernel.LANES
    order = np.minimum(np.arange(padded), samples - 1)
    matrix, sources = numpy_lanes.linear_part(equations, base[:, order])
    counts, numbers, values = _changed(parameters[:, order], base[:, order], lanes)
    filled = numpy_lanes.filled_slots(equations, base)
    lean = equations.lu.without(filled)
    needs_full = _touches_empty(equations, filled, counts, numbers)
    volts = np.empty((len(lanes), equations.lu.size + 1, padded))
    settled = np.zeros((len(lanes), padded), dtype=np.bool_)
    numba_kernel.sweep(
        equations.lu.pivot_slot, _recipe(equations.lu), _recipe(lean), needs_full,
        *_stamps(equations), *_devices(equations),
        np.ascontiguousarray(base[:, order]), matrix, sources, np.ascontiguousarray(start[:, order]),
        counts, numbers, values, _settings(steps), volts, settled,
    )  # fmt: skip
    return volts[:, :, :samples], settled[:, :samples]


def _changed(
    parameters: Floats, base: Floats, lanes: Sequence[Sequence[Move]]
) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """For each hypothesis, the parameters that differ from the base and their values on every sample."""
    counts: list[int] = [0]
    numbers: list[int] = []
    values: list[Floats] = []
    for moves in lanes:
        now: dict[int, Floats] = {}
        for number, verb, amount in moves:
            old = now.get(number, parameters[number])
            factor = parameters[int(amount)] if verb == "times" else amount
            now[number] = {"set": np.full_like(old, amount), "add": old + amount}.get(verb, old * factor)
        kept = {number: value for number, value in now.items() if not np.array_equal(value, base[number])}
        numbers += kept.keys()
        values += kept.values()
        counts.append(len(numbers))
    table = np.array(values) if values else np.empty((0, base.shape[1]))
    return np.array(counts), np.array(numbers, dtype=np.int64), table


def _touches_empty(
    equations: Equations, filled: NDArray[np.bool_], counts: NDArray[np.int64], numbers: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Whether a hypothesis changes a parameter with a stamp on a slot that is empty in the healthy lanes."""
    slots, stamped, _ = equations.matrix_stamps
    beyond = np.zeros(len(equations.nominal), dtype=bool)
    beyond[stamped[~filled[slots]]] = True
    return np.array([beyond[numbers[first:last]].any() for first, last in pairwise(counts)])


def _recipe(lu: Factorisation) -> tuple[NDArray[np.int64], ...]:
    return lu.lower_start, lu.lower_slot, lu.lower_row, lu.upper_start, lu.upper_slot, lu.upper_column, lu.target


def _stamps(
    equations: Equations,
) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats, NDArray[np.int64], NDArray[np.int64], Floats]:
    """Matrix and source stamps sorted by parameter: starts, places, signs."""
    found: list[NDArray[np.int64] | Floats] = []
    for places, numbers, signs in (equations.matrix_stamps, equations.source_stamps):
        by_parameter = np.argsort(numbers, kind="stable")
        starts = np.searchsorted(numbers[by_parameter], np.arange(len(equations.nominal) + 1))
        found += [starts, places[by_parameter], signs[by_parameter]]
    return tuple(found)  # type: ignore[return-value]


def _devices(equations: Equations) -> tuple[NDArray[np.int64] | Floats, ...]:
    return (
        equations.diodes, equations.diode_rows, equations.diode_slots, equations.diode_vt, equations.diode_parameter,
        equations.transistors, equations.transistor_rows, equations.transistor_slots,
        equations.transistor_numbers, equations.transistor_parameter,
        equations.entry_slot, equations.entry_row, equations.entry_column,
    )  # fmt: skip


def _settings(steps: int | None) -> Floats:
    most = engine_number("newton_steps") if steps is None else float(steps)
    keys = ("junction_shunt_s", "residual_a", "residual_share")
    return np.array([engine_number("settled_v"), most, *map(engine_number, keys)])
