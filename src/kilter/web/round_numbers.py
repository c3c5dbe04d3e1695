"""Round numbers for the ticks of a scale."""

from __future__ import annotations

import math


def round_numbers(low: float, high: float, about: int) -> list[float]:
    """
    Round numbers between two ends, about so many of them: steps of 1, 2 or 5 and a power of ten.

    >>> round_numbers(21.3, 68.5, 5), round_numbers(4.93, 5.01, 4)
    ([30.0, 40.0, 50.0, 60.0], [4.95, 5.0])
    """
    rough = (high - low) / about
    if not (math.isfinite(rough) and rough > 0):
        return []
    power = 10.0 ** math.floor(math.log10(rough))
    step = next((one * power for one in (1, 2, 5) if one * power >= rough), 10 * power)
    first = math.ceil(low / step)
    return [float(f"{n * step:.12g}") for n in range(first, math.floor(high / step) + 1)]
