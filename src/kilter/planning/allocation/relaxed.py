"""The programme without whole numbers: a bound on every plan, and the prices of everything that is scarce."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from kilter.planning.allocation.solver import optimiser

if TYPE_CHECKING:
    from kilter.planning.allocation.model import Model

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Relaxed:
    """
    The programme without whole numbers.

    Args:
        worth: No plan is worth more.
        prices: What one more of each row's limit would add, shape (R,).
        short: By how much each unknown falls short of the prices, shape (V,).
    """

    worth: float
    prices: Floats
    short: Floats


def relax(model: Model, low: Floats, high: Floats, seconds: float) -> Relaxed | None:
    """
    Solves the programme without whole numbers; None where that was not done in time.

    Args:
        model: The programme.
        low: Least value of each unknown, shape (V,).
        high: Largest value of each unknown, shape (V,).
        seconds: Stop after that time.
    """
    found = optimiser().linprog(
        -model.gain, A_ub=model.rows, b_ub=model.limit, bounds=np.column_stack([low, high]), method="highs-ipm",
        options={"time_limit": seconds},
    )  # fmt: skip
    if found.status != 0:
        return None
    prices = -np.asarray(found.ineqlin.marginals)
    return Relaxed(-float(found.fun), prices, model.rows.T @ prices - model.gain)
