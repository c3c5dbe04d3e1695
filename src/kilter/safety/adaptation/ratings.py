"""The rated voltage of a capacitor, and whether the voltage across it asks for trained people."""

from __future__ import annotations

from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table


def rated_volts(volts: float) -> float:
    """
    The smallest rated voltage that stands well above what a capacitor sees. [V]

    Args:
        volts: Largest that it may see. [V]

    Raises:
        OutOfRange: More than any in the table.

    >>> rated_volts(5.0), rated_volts(9.0)
    (6.3, 16.0)
    """
    data = table("adaptation/ratings")["capacitor"]
    for made in data["volts"]:
        if made >= data["above"] * volts:
            return float(made)
    raise OutOfRange("Cannot choose a capacitor", f"{volts:g} V across it",
                     f"up to {data['volts'][-1] / data['above']:g} V", "This is work for somebody who knows high "
                     "voltage.")  # fmt: skip


def shock_cautions(volts: float) -> tuple[str, ...]:
    """What is said where a voltage can be felt."""
    most = float(table("safety/hazards")["limits"]["volts_dc"])
    if volts <= most:
        return ()
    return (f"{volts:g} V can kill, and a capacitor keeps it after switching off: work for people trained for it, with "
            "the plug out and every large capacitor measured first.",)  # fmt: skip
