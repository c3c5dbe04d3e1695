"""The inspection record of a mains appliance: what was looked at and measured, beside the limits of one edition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kilter.measure.tables import table

WITHIN, BEYOND, OPEN, NOT_ASKED = "within its limit", "beyond its limit", "not done", "not asked for"
FAILED, INCOMPLETE, NOTHING_FOUND = "failed", "incomplete", "nothing found beyond its limit"
EARTHED = "I"


@dataclass(frozen=True)
class Appliance:
    """
    What was inspected; None is not measured, a visual check that is missing was not done.

    Args:
        protection: Class 'I' (earthed), 'II' (double insulated) or 'III' (extra-low voltage).
        hand_held: Whether it is held in the hand in use.
        edition: Key of the limits.
        earth: Resistance from the plug's earth pin to touchable metal. [ohm]
        lead_length: [m]
        lead_section: Of the earth wire. [mm2]
        insulation: [ohm]
        test_volts: Of the insulation test. [V]
        leakage: Protective conductor or touch current. [A]
        seen: Visual check to whether it was found in order.
    """

    protection: str
    edition: str
    hand_held: bool = False
    earth: float | None = None
    lead_length: float | None = None
    lead_section: float | None = None
    insulation: float | None = None
    test_volts: float | None = None
    leakage: float | None = None
    seen: Mapping[str, bool] | None = None


@dataclass(frozen=True)
class Item:
    """One line of the record: `value` and `limit` in `unit`, None where there is none."""

    key: str
    words: str
    value: float | None
    limit: float | None
    unit: str
    standing: str


@dataclass(frozen=True)
class Inspection:
    """The record: `standing` is never better than 'nothing found beyond its limit', and says nothing of safety."""

    standing: str
    items: tuple[Item, ...]
    cautions: tuple[str, ...]


def inspect(one: Appliance) -> Inspection:
    """
    Puts each finding beside its limit.

    >>> inspect(Appliance("II", "uk_4", insulation=5e6, leakage=0.1e-3)).standing
    'incomplete'
    """
    data = table("safety/inspection")
    limits = data["editions"][one.edition]
    items = [_visual(row, one.seen or {}) for row in data["visual"]]
    items += [_earth(one, limits), _insulation(one, limits), _leakage(one, limits)]
    standings = {item.standing for item in items}
    standing = FAILED if BEYOND in standings else INCOMPLETE if OPEN in standings else NOTHING_FOUND
    return Inspection(standing, tuple(items), _cautions(one, data))


def _visual(row: Mapping[str, Any], seen: Mapping[str, bool]) -> Item:
    found = seen.get(row["key"])
    return Item(row["key"], row["words"], None, None, "", OPEN if found is None else WITHIN if found else BEYOND)


def _earth(one: Appliance, limits: Mapping[str, Any]) -> Item:
    words = "Earth continuity, plug to touchable metal"
    if one.protection != EARTHED:
        return Item("earth", words, one.earth, None, "ohm", NOT_ASKED)
    most = float(limits["earth_ohm"]) + (_lead(one) if limits["earth_adds_lead"] else 0.0)
    return Item("earth", words, one.earth, most, "ohm", _judged(one.earth, most, at_most=True))


def _lead(one: Appliance) -> float:
    """Resistance of the earth wire of the lead; nothing where its length or section is not known. [ohm]"""
    by_section = table("safety/inspection")["lead"]["ohm_per_metre"]
    known = one.lead_length is not None and one.lead_section is not None and str(one.lead_section) in by_section
    return float(one.lead_length or 0.0) * float(by_section[str(one.lead_section)]) if known else 0.0


def _insulation(one: Appliance, limits: Mapping[str, Any]) -> Item:
    least = 1e6 * float(limits["insulation_mohm"][one.protection])
    return Item("insulation", "Insulation, mains to touchable metal", one.insulation, least, "ohm",
                _judged(one.insulation, least, at_most=False))  # fmt: skip


def _leakage(one: Appliance, limits: Mapping[str, Any]) -> Item:
    words = "Protective conductor or touch current"
    key = f"{one.protection} hand-held" if one.hand_held else one.protection
    most = limits["leakage_ma"].get(key, limits["leakage_ma"].get(one.protection))
    if most is None:
        return Item("leakage", words, one.leakage, None, "A", NOT_ASKED)
    return Item("leakage", words, one.leakage, 1e-3 * float(most), "A", _judged(one.leakage, 1e-3 * float(most),
                                                                               at_most=True))  # fmt: skip


def _judged(value: float | None, limit: float, *, at_most: bool) -> str:
    if value is None:
        return OPEN
    return WITHIN if (value <= limit if at_most else value >= limit) else BEYOND


def _cautions(one: Appliance, data: Mapping[str, Any]) -> tuple[str, ...]:
    soft = float(data["soft"]["volts"])
    found = [
        "This record does not say that the appliance is safe. Who may inspect, how often and by which edition is for "
        "the law and the rules of the place; the limits here are second-hand and marked so.",
        f"On a heritage object an insulation test above {soft:.0f} V needs approval: it can break old suppression "
        "capacitors. A flash test is never done.",
    ]  # fmt: skip
    if one.test_volts is not None and one.test_volts > soft:
        found.append(f"The insulation was tested at {one.test_volts:.0f} V, above {soft:.0f} V: say who approved it.")
    return tuple(found)
