"""How warm a part is: by the mode it has, and by whether it has a supply at all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kilter.measure.quantities import quantity
from kilter.measure.scales import to_scale
from kilter.measure.tables import table
from kilter.parts.kinds import Mode
from kilter.simulate.activity.block_kinds import judgement
from kilter.simulate.activity.figures import Figures
from kilter.simulate.activity.signal import Floats
from kilter.simulate.activity.words import Words, chances_by_truth

HEATS = ("usual", "hot", "cold")


def heat_words(modes: Sequence[Mode | None], idle: Floats) -> Words:
    """
    Chances of 'cold', 'usual', 'hot' for one part.

    Args:
        modes: What it has in each hypothesis; None where it is healthy.
        idle: Chance that its rail is down while the object is on, shape (H,).
    """
    return quantity("heat").categories, _mix(modes, idle) @ chances_by_truth("heat", HEATS)


def temperature_rise(modes: Sequence[Mode | None], idle: Floats) -> Figures:
    """Rise of one part's surface above the surroundings; arguments as for heat_words."""
    rows = table("block_kinds")["rise"]
    means = np.array([rows[heat]["mean"] for heat in HEATS])
    spreads = np.array([rows[heat]["spread"] for heat in HEATS])
    mix = _mix(modes, idle)
    mean = mix @ means
    variance = mix @ (spreads**2 + means**2) - mean**2
    return to_scale("temperature_rise", mean), np.sqrt(variance), np.zeros(len(modes))


def _mix(modes: Sequence[Mode | None], idle: Floats) -> Floats:
    """
    Chance of each of HEATS, shape (H, 3).

    A part without supply is cold. One that is shorted may be the very reason why its rail is down, and then it is hot.
    """
    own = np.eye(len(HEATS))[[HEATS.index(mode.heat) if mode is not None and mode.heat else 0 for mode in modes]]
    cold = np.eye(len(HEATS))[HEATS.index("cold")]
    shorted = np.array([mode is not None and mode.heat == "hot" and bool(mode.circuit) for mode in modes])
    kept = np.where(shorted, 1.0 - judgement("heating", "short_without_supply"), 1.0)
    chilled = (idle * kept)[:, None]
    return np.asarray(own * (1.0 - chilled) + cold * chilled)
