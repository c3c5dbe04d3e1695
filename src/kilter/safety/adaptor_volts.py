"""
What reaches the object's plug, as a range: unregulated adaptors rise without load and follow the mains.

An unregulated transformer adaptor is taken as a straight line from its open voltage to its nameplate at full current:
V(I) = V_open - (V_open - V_full) I / I_full. Valid for I up to I_full; the true curve of a capacitor-input rectifier
bends a little above the line at light load. Source: closed form of a source with series resistance.
"""

from __future__ import annotations

from dataclasses import dataclass

from kilter.measure.tables import table
from kilter.records.power import Mains, Offered


@dataclass(frozen=True)
class AtPlug:
    """
    Range of what the adaptor gives. [V]

    Args:
        loaded: Lowest and highest at the object's current, over the mains range.
        loaded_nominal: The same at nominal mains.
        open_most: Highest without load, which is what the object meets at switch-on.
    """

    loaded: tuple[float, float]
    loaded_nominal: tuple[float, float]
    open_most: float


def number(group: str, key: str) -> float:
    """A number of data/safety/adaptor.toml, in the unit stated there."""
    return float(table("safety/adaptor")[group][key]["value"])


def at_plug(offered: Offered, current: float, mains: Mains) -> AtPlug | None:
    """
    What reaches the plug, None where too little is known.

    Args:
        offered: With its voltage and, unless regulated, its current and rated mains.
        current: That the object draws. [A]
        mains: At the place of use.

    >>> regulated = Offered("dc", 9.0, 1.0, "centre negative", True, mains_volts=(100, 240), mains_hertz=(50, 60))
    >>> [round(volts, 2) for volts in at_plug(regulated, 0.5, Mains(230.0, 0.9, 1.1, 50.0)).loaded]
    [8.55, 9.45]
    """
    if offered.volts is None or offered.regulated is None:
        return None
    if offered.regulated:
        off = number("regulated", "spread")
        span = (offered.volts * (1 - off), offered.volts * (1 + off))
        return AtPlug(span, span, span[1])
    if offered.current is None or offered.mains_volts is None or mains.volts is None or offered.current <= 0:
        return None
    least, most = _lines(offered, min(current / offered.current, 1.0))
    ratio = mains.volts / (sum(offered.mains_volts) / 2)
    return AtPlug(
        (least * ratio * mains.low, most * ratio * mains.high),
        (least * ratio, most * ratio),
        _open(offered)[1] * ratio * mains.high,
    )


def _lines(offered: Offered, share: float) -> tuple[float, float]:
    """Lowest and highest voltage at a share of the full current and at rated mains. [V]"""
    assert offered.volts is not None
    assert offered.current is not None
    low, high = _open(offered)
    full = (offered.volts, offered.volts)
    if offered.loaded_volts is not None and offered.loaded_current:
        off, part = number("meter", "spread"), min(offered.loaded_current / offered.current, 1.0)
        read = (offered.loaded_volts * (1 - off), offered.loaded_volts * (1 + off))
        full = (low - (low - read[0]) / part, high - (high - read[1]) / part)
    return low - (low - full[0]) * share, high - (high - full[1]) * share


def _open(offered: Offered) -> tuple[float, float]:
    assert offered.volts is not None
    if offered.open_volts is not None:
        off = number("meter", "spread")
        return offered.open_volts * (1 - off), offered.open_volts * (1 + off)
    return offered.volts * number("unregulated", "least"), offered.volts * number("unregulated", "most")
