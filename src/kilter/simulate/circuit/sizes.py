"""
Sizes of faults: a drift is not always half as much again, nor a leak always 2.2 kohm.

The part kinds data give a typical size for each mode. Here each tolerance sample gets a size of its own, the same draw
for all faults: a drift factor f becomes f to the power exp(s*z), a bridge's resistance is multiplied by exp(t*z). The
first sample keeps the typical size. Sizes are parameters of the equations that no stamp uses; a move 'times' multiplies
another parameter by one. A part that names the sizes of its drift keeps them to the letter.
"""

from __future__ import annotations

from dataclasses import replace
from math import log
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.parts.kinds import Change
from kilter.records.part import Part
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.draft import Key

if TYPE_CHECKING:
    from kilter.simulate.circuit.equations import Equations

Floats = NDArray[np.float64]

BRIDGE: Key = ("size", "bridge")
POWERS = (1, -1)
"""Powers to which a scaled number enters parameters."""


def size_key(part: Part, change: Change, power: int = 1) -> Key | None:
    """The parameter that holds the relative size of a change, None where its size is fixed."""
    if change.verb == "bridge":
        return BRIDGE
    if change.verb != "scale" or change.number == "bv" or part.drifts:
        return None
    return ("size", f"{power * log(change.amount):.9f}")


def with_sizes(equations: Equations, parameters: Floats, draws: ArrayLike) -> Floats:
    """
    The parameters with the sizes that belong to these draws, a new table.

    Args:
        equations: Of the same topology.
        parameters: Shape (n_parameters, S).
        draws: Standard normal, shape (S,); 0 is the typical size.
    """
    table, z = parameters.copy(), np.asarray(draws, dtype=float)
    for key, row in equations.parameter.items():
        if key == BRIDGE:
            table[row] = np.exp(-engine_number("bridge_size_ln") * z)
        elif key[0] == "size":
            table[row] = np.exp(float(key[1]) * (np.exp(engine_number("drift_size_ln") * z) - 1.0))
    return table


def size_draws(samples: int, seed: int = 1969) -> Floats:
    """Zero, then standard normal draws, centred and scaled, shape (samples,)."""
    draws = np.random.default_rng(seed).standard_normal(samples - 1)
    if samples > 3:
        draws = (draws - draws.mean()) / draws.std()
    return np.concatenate([[0.0], draws])


def sized(equations: Equations, column: Floats, part: Part, change: Change) -> Change:
    """A change as large as one column of parameters has it."""
    key = size_key(part, change)
    if key is None or key not in equations.parameter:
        return change
    size = float(column[equations.parameter[key]])
    return replace(change, amount=change.amount / size if key == BRIDGE else change.amount * size)
