"""Old aluminium electrolytics: life, leakage limit and a plan for reforming. Numbers are in data/safety/supply.toml."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table


def life_hours(rated_hours: float, rated_celsius: float, celsius: float) -> float:
    """
    Life at another temperature: it doubles for every ten kelvin less. [h]

    Args:
        rated_hours: At the rated temperature. [h]
        rated_celsius: [degC]
        celsius: Of the surroundings of the part. [degC]

    Valid: rated ripple, 60 to 105 degC; below 60 degC makers cap it. Source: makers' life formulas, second-hand.

    >>> life_hours(2000.0, 85.0, 45.0)
    32000.0
    """
    return float(rated_hours * 2.0 ** ((rated_celsius - celsius) / 10.0))


def equivalent_resistance(tangent: float, hertz: float, farads: float) -> float:
    """
    Equivalent series resistance from the loss tangent, tan d/(2 pi f C). [ohm]

    >>> round(equivalent_resistance(0.15, 100.0, 1000e-6), 3)
    0.239
    """
    from math import pi

    return tangent / (2.0 * pi * hertz * farads)


def leakage_limit(farads: float, volts: float) -> float:
    """
    Leakage up to which an old electrolytic passed, K C + 0.3 mA. [A]

    Args:
        farads: [F]
        volts: Rated. [V]

    Raises:
        OutOfRange: A rated voltage beyond the table.

    Source: military specification of the 1940s for dry electrolytics, second-hand; data/safety/supply.toml leakage.

    >>> round(leakage_limit(20e-6, 450.0) * 1e3, 2)
    1.1
    """
    rows = table("safety/supply")["leakage"]["steps"]
    for row in rows:
        if 0 < volts <= row["up_to_volts"]:
            return float(row["ma_per_uf"] * farads * 1e6 + table("safety/supply")["leakage"]["base_ma"]) * 1e-3
    raise OutOfRange("Cannot look up a leakage limit", f"a rated voltage of {volts:g} V",
                     f"above 0 to {rows[-1]['up_to_volts']:g} V", "Use the maker's sheet.")  # fmt: skip


@dataclass(frozen=True)
class ReformStep:
    """One step: the supply's voltage, at least so long, and on while the leakage is above the limit. [V, min, A]"""

    volts: float
    minutes: float
    leakage_most: float


@dataclass(frozen=True)
class ReformPlan:
    """
    How to bring an electrolytic that stood for years back to its voltage, outside the object, behind a resistor.

    Args:
        ohms: Series resistor.
        watts: That it may have to burn, the whole voltage across it.
        steps: In order.
        minutes: Of all steps together.
        stop: Words: when to give up.
    """

    ohms: float
    watts: float
    steps: tuple[ReformStep, ...]
    minutes: float
    stop: str


def reform_plan(farads: float, volts: float, years_idle: float) -> ReformPlan:
    """
    A plan by the rules of data/safety/supply.toml, whose sources disagree; the slow ones were taken.

    Args:
        farads: [F]
        volts: The voltage that it will see, at most its rating. [V]
        years_idle: Since it last had voltage.
    """
    rules = table("safety/supply")["reform"]
    if min(farads, volts) <= 0 or years_idle < 0:
        raise OutOfRange("Cannot plan a reforming", f"{farads:g} F, {volts:g} V, {years_idle:g} years",
                         "numbers above 0", "Correct them.")  # fmt: skip
    ohms = float(rules["ohms_low"] if volts <= rules["low_volts"] else rules["ohms_high"])
    count = int(rules["steps"])
    limit = leakage_limit(farads, volts)
    settle = 5.0 * ohms * farads / 60.0
    each = max(float(rules["minutes"]) + float(rules["minutes_per_month"]) * 12.0 * years_idle / count, settle)
    hold = max(float(rules["hold_hours"]) * 60.0, each)
    steps = [
        ReformStep(volts * n / count, float(ceil(each if n < count else hold)), limit) for n in range(1, count + 1)
    ]
    return ReformPlan(ohms, volts**2 / ohms, tuple(steps), sum(one.minutes for one in steps), str(rules["stop"]))
