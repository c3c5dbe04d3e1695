"""Series resistance of electrolytics: what a new one has, when one is worn, and what it heats."""

from __future__ import annotations

from itertools import pairwise
from math import exp, log

from kilter.measure.tables import table


def core_heat(ripple_current: float, esr: float) -> float:
    """
    Heat that the ripple current makes inside, I² R. [W]

    Args:
        ripple_current: Root mean square. [A]
        esr: At the frequency of the ripple. [ohm]

    Source: Joule's law.

    >>> round(core_heat(1.46, 0.08), 3)
    0.171
    """
    return ripple_current**2 * esr


def new_esr(farads: float, volts: float | None) -> tuple[float, float] | None:
    """
    Series resistance of a new electrolytic by two published tables that differ, lower and upper. [ohm]

    Args:
        farads: [F]
        volts: Rated; None where nobody knows it. [V]

    Returns:
        None outside the tables: they know 10 µF to 4.7 mF at low voltage.

    Valid: between the rows on logarithmic scales.
    Source: data/safety/supply.toml esr, second-hand.

    >>> new_esr(1000e-6, 16.0), new_esr(1.0, 16.0)
    ((0.09, 0.16), None)
    """
    rules = table("safety/supply")["esr"]
    rows = rules["rows"]
    if volts is None or volts > rules["most_volts"] or not rows[0]["farads"] <= farads <= rows[-1]["farads"]:
        return None
    for row, following in pairwise(rows):
        if farads <= following["farads"]:
            share = log(farads / row["farads"]) / log(following["farads"] / row["farads"])
            ends = [
                exp(log(row[side]) + share * (log(following[side]) - log(row[side]))) for side in ("ohms_1", "ohms_2")
            ]
            return round(min(ends), 6), round(max(ends), 6)
    return None


def suspicious_esr(farads: float, volts: float | None) -> float | None:
    """
    Series resistance beyond which an electrolytic is taken to be worn; None where no table tells. [ohm]

    >>> suspicious_esr(1000e-6, 16.0)
    0.32
    """
    known = new_esr(farads, volts)
    return None if known is None else known[1] * float(table("safety/supply")["esr"]["worn"])
