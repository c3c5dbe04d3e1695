"""What a flip-flop or latch holds next, in four values; an edge that only may have come leaves 'either' behind."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from kilter.simulate.logic.netlist import Register
from kilter.simulate.logic.planes import HIGH, LOW, Planes, invert

Roles = Mapping[str, Planes]
"""What the register's inputs see (never Z), by role."""


def captured(register: Register, now: Roles, before: Roles, held: Planes) -> Planes:
    """
    The output after a change of clock and data, clear and preset left out.

    A data input that moves together with its clock is a race, and what is captured of it is 'either'.
    """
    if not register.clock:
        return held
    clock, earlier = now["clock"], before["clock"]
    if register.falling:
        clock, earlier = invert(clock), invert(earlier)
    if register.kind == "latch":
        return _choose(surely=clock[HIGH] & ~clock[LOW], maybe=clock[HIGH] & clock[LOW], new=now["data"], held=held)
    edge = earlier[LOW] & ~earlier[HIGH] & clock[HIGH] & ~clock[LOW]
    possible = earlier[LOW] & clock[HIGH]
    return _choose(surely=edge, maybe=possible & ~edge, new=now["data"] | before["data"], held=held)


def forced(now: Roles, value: Planes) -> Planes:
    """The output with clear and preset (both active low) laid over it; both at once is unknown."""
    for role, level in (("clear", LOW), ("preset", HIGH)):
        if role in now:
            active_high, active_low = invert(now[role])
            wanted = np.zeros_like(value)
            wanted[level] = ~np.uint64(0)
            value = _choose(surely=active_high & ~active_low, maybe=active_high & active_low, new=wanted, held=value)
    if "clear" in now and "preset" in now:
        value = value | (now["clear"][LOW] & now["preset"][LOW])
    return value


def _choose(*, surely: Planes, maybe: Planes, new: Planes, held: Planes) -> Planes:
    """New where surely, either where maybe, held elsewhere."""
    taken, kept = surely | maybe, ~surely
    return np.asarray((new & taken) | (held & kept))
