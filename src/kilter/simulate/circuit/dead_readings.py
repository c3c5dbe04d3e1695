"""
From the volts of a dead board to what a meter shows on it: tolerance draws of ohms and of diode-mode readings.

The healthy board's spread is laid around each hypothesis' reading, every reading moving apart from the others, and
faults that have a size add what other sizes do.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from kilter.measure.instruments import TestSource
from kilter.measure.quantities import quantity
from kilter.measure.scales import to_scale
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.dead_board import SIZES, DeadBoard, Probe
from kilter.simulate.circuit.meter import shown
from kilter.simulate.circuit.sizes import size_draws
from kilter.simulate.prediction import Floats, Hypothesis


def dead_draws(
    dead: DeadBoard, hypotheses: Sequence[Hypothesis], quantities: Sequence[str], probes: Sequence[Probe], samples: int
) -> tuple[Floats, int]:
    """
    What a meter reads in each draw.

    Args:
        dead: The board in its state.
        hypotheses: H sets of faults.
        quantities: 'resistance' or 'diode', one for each of T readings.
        probes: Where and with what source each is taken.
        samples: S draws.

    Returns:
        Readings, NaN where a lane did not settle, and the number of those. [scaled], shape (H, S, T)
    """
    healthy, nominal, other = (
        dead.healthy(probes), dead.nominal(hypotheses, probes), dead.other_sizes(hypotheses, probes)
    )  # fmt: skip
    draws = np.empty((len(hypotheses), samples, len(probes)))
    alike: dict[tuple[str, TestSource], list[int]] = {}
    for column, (key, (_, source)) in enumerate(zip(quantities, probes, strict=True)):
        alike.setdefault((key, source), []).append(column)
    sizes = size_draws(samples)
    for (key, source), columns in alike.items():
        over, typical, moved_to = (
            to_scale(key, shown(volts[:, columns], source, diode=key == "diode"))
            for volts in (healthy, nominal, other)
        )
        steps = _spread(key, over) * np.stack([_pattern(samples, column) for column in columns], axis=1)
        draws[:, :, columns] = typical[:, None] + steps + _size_effect(typical, moved_to, sizes)
    return draws, int(np.isnan(nominal).sum())


def _spread(quantity_key: str, healthy: Floats) -> Floats:
    """Standard deviation of readings over healthy boards, never below a floor. [scaled], shape (S, T) to (T,)"""
    least = engine_number("dead_spread_ln" if quantity(quantity_key).scale == "log" else "dead_spread_v")
    settled = np.isfinite(healthy)
    count = settled.sum(axis=0)
    mean = np.where(settled, healthy, 0.0).sum(axis=0) / np.maximum(count, 1)
    squares = (np.where(settled, healthy - mean, 0.0) ** 2).sum(axis=0)
    return np.asarray(np.maximum(np.sqrt(squares / np.maximum(count - 1, 1)), least))


@cache
def _pattern(samples: int, column: int) -> Floats:
    """Standard steps of one reading over the samples; readings on a dead board are taken to move apart. Shape (S,)"""
    if samples < 3:
        return np.zeros(samples)
    steps = np.random.default_rng(column).standard_normal(samples)
    steps = np.asarray((steps - steps.mean()) / steps.std(ddof=1))
    steps.flags.writeable = False
    return steps


def _size_effect(typical: Floats, other: Floats, draws: Floats) -> Floats:
    """
    How much a fault's size moves readings in each sample, straight lines between the sizes solved. [scaled]

    Args:
        typical: Readings at the typical size, shape (H, T).
        other: At SIZES, shape (H, T, 2).
        draws: Of the size in each sample, shape (S,).

    Returns:
        Shape (H, S, T), 0 where a lane did not settle.
    """
    slopes = np.nan_to_num((other - typical[:, :, None]) / np.array(SIZES))
    steps = draws[:, None]
    return np.asarray(np.where(steps < 0.0, slopes[:, None, :, 0] * steps, slopes[:, None, :, 1] * steps))
