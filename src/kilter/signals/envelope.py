"""Thin a waveform for drawing: least and greatest sample of each column, so that no spike is lost or shortened."""

from __future__ import annotations

import numpy as np

from kilter.signals.settings import setting
from kilter.signals.waveform import Floats


def envelope(values: Floats, columns: int | None = None) -> tuple[Floats, Floats]:
    """
    Indices and values that draw like the whole record.

    Args:
        values: Samples; NaN leaves a gap.
        columns: Columns of the picture; None takes the usual number.

    Returns:
        Indices and values of equal length, at most two for each column.

    >>> spike = np.zeros(100_000)
    >>> spike[54_321] = 7.0
    >>> places, found = envelope(spike)
    >>> len(found) <= 4002, float(found.max()), int(places[found.argmax()])
    (True, 7.0, 54321)
    """
    wanted = columns or int(setting("plot_columns"))
    if len(values) <= 2 * wanted:
        return np.arange(len(values), dtype=np.float64), values
    fold = len(values) // wanted
    whole = len(values) // fold * fold
    blocks = values[:whole].reshape(-1, fold)
    filled_low, filled_high = (np.where(np.isnan(blocks), end, blocks) if np.isnan(values).any() else blocks
                               for end in (np.inf, -np.inf))  # fmt: skip
    ends = np.stack([filled_low.argmin(axis=1), filled_high.argmax(axis=1)], axis=1)
    ends.sort(axis=1)
    index = (ends + fold * np.arange(len(blocks))[:, None]).ravel()
    if whole < len(values):
        rest = values[whole:]
        extra = {whole + int(k) for k in (np.argmin(rest), np.argmax(rest))}
        index = np.concatenate((index, sorted(extra)))
    return index.astype(np.float64), values[index]
