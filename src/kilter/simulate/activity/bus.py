"""A line with several drivers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kilter.simulate.activity.block_kinds import judgement
from kilter.simulate.activity.signal import (
    BETWEEN,
    FLOATING,
    HIGH,
    LOW,
    STILL,
    UNPOWERED,
    Signal,
    any_doubt,
    choose,
    pulses,
    rests,
    stacked,
)


def together(drivers: Sequence[Signal]) -> Signal:
    """
    What a line does that several outputs drive.

    Drivers that move take turns; one that holds its level beside them shows, by 'stuck_doubt'; a silent one is missed,
    by 'missing_doubt'. At rest, drivers that agree give their level, drivers that fight give something between.
    """
    if len(drivers) == 1:
        return drivers[0]
    lines = stacked(drivers)
    at = {code: lines.level == code for code in (LOW, HIGH, BETWEEN)}
    moves, low, high = lines.moves.any(0), at[LOW].any(0), at[HIGH].any(0)
    silent = np.where(moves & ~lines.moves.all(0), judgement("bus", "missing_doubt"), 0.0)
    free = pulses().doubted(silent)
    held = rests(np.where(low, LOW, HIGH)).doubted(judgement("bus", "stuck_doubt"))
    fight = (low & high) | at[BETWEEN].any(0)
    out = choose(low | high, rests(np.where(low, LOW, HIGH)), _idle(lines))
    out = choose(fight, rests(BETWEEN), out)
    out = choose(moves, choose(low | high, held, free), out)
    return out.doubted(any_doubt(*lines.doubt))


def _idle(lines: Signal) -> Signal:
    """What a line does that nobody moves or holds."""
    floating, unpowered = (lines.level == FLOATING).all(0), (lines.level == UNPOWERED).all(0)
    return rests(np.where(floating, FLOATING, np.where(unpowered, UNPOWERED, STILL)))
