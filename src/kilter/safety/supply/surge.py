"""Pulses through fuses: I²t of a charging capacitor, and the share of a fuse's melting I²t that it may take."""

from __future__ import annotations

from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table


def charging_i2t(farads: float, volts: float, ohms: float) -> float:
    """
    Integral of current squared while a capacitor charges through a resistance, C V²/(2 R). [A² s]

    Valid: exactly, for a steady voltage; as a bound, for a rectified sine. Source: closed form, half of the squared
    peak times the time constant.

    >>> round(charging_i2t(2200e-6, 15.4, 0.6), 2)
    0.43
    """
    return farads * volts**2 / (2.0 * ohms)


def share_allowed(pulses: float) -> float:
    """
    Share of the melting I²t that a pulse may have if the fuse is to live through so many of them.

    Raises:
        OutOfRange: More pulses than the table knows.

    Source: a fuse maker's table, second-hand; data/safety/supply.toml pulses.

    >>> share_allowed(1000)
    0.38
    """
    rows = table("safety/supply")["pulses"]["steps"]
    for row in rows:
        if 0 < pulses <= row["count"]:
            return float(row["share"])
    raise OutOfRange("Cannot look up fuse pulses", f"{pulses:g} switch-ons", f"1 to {rows[-1]['count']:g}",
                     "Use the maker's sheet.")  # fmt: skip


def fuse_stands(i2t: float, melting: float, pulses: float) -> bool:
    """Whether a fuse of that melting I²t [A² s] lives through so many pulses of that I²t [A² s]."""
    return i2t <= share_allowed(pulses) * melting
