"""One line of a recap list: an ageing capacitor, what it says, and what would stand in for it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from kilter.measure.e_series import at_least
from kilter.measure.measured import engineering
from kilter.measure.tables import table
from kilter.records.part import Part

VOLTS = re.compile(r"(?<![\w.])(\d{1,4}(?:[.,]\d)?) ?V(?:DC|W)?(?![\w])", re.IGNORECASE)
NOT_KNOWN = "not known: read it on the part"


@dataclass(frozen=True)
class RecapLine:
    """
    One capacitor.

    Args:
        part: Reference.
        kind: Key of its kind.
        capacitance: As drawn; None where the drawing does not say. [F]
        volts: That it is rated for, None where nobody wrote it down. [V]
        held: That a healthy board holds across it at most, None where it cannot be told. [V]
        plus: Words for the side on which its positive leg belongs; '' where it cannot be told.
        new_capacitance: Of the replacement; None where it cannot be chosen. [F]
        new_volts: Rating of the replacement; None where it cannot be chosen. [V]
        original: It is the one that left the factory.
        where: Position, for people.
        notes: What has to be looked at or found out, in words.
    """

    part: str
    kind: str
    capacitance: float | None
    volts: float | None
    held: float | None
    plus: str
    new_capacitance: float | None
    new_volts: float | None
    original: bool
    where: str
    notes: tuple[str, ...]

    @property
    def settled(self) -> bool:
        """Whether the replacement's value and rating could both be chosen from what is known."""
        return None not in (self.capacitance, self.volts, self.new_capacitance, self.new_volts)


def ages(part: Part) -> bool:
    """Whether a part belongs on the list: a kind that ages, or a capacitor of unknown kind that is large."""
    if part.kind == "capacitor":
        return part.number is None or part.number >= _data()["electrolytics_from"]["value"]
    return part.kind in _data()["kinds"] and part.kind not in ("source", "kind")


def recap_line(part: Part, held: float | None, plus: str) -> RecapLine:
    """
    The line of one part.

    Args:
        part: One that ages.
        held: Worst voltage across it on a healthy board. [V]
        plus: Words for the positive side.

    >>> from kilter.records.part import Part
    >>> line = recap_line(Part("C1", "electrolytic", {}, "32u", 32e-6, notes=("350 V",)), 280.0, "HT")
    >>> f"{line.new_capacitance * 1e6:.0f} µF {line.new_volts:.0f} V"
    '33 µF 350 V'
    """
    volts = rated_volts(part)
    notes: list[str] = []
    value = part.number if part.number and part.number > 0 else None
    if value is None:
        notes.append(f"its value is {NOT_KNOWN}")
    if volts is None:
        notes.append(f"its rated voltage is {NOT_KNOWN}")
    if held is None:
        notes.append("the voltage across it is not known: measure the worst, on high mains and light load")
    if volts is not None and held is not None and held > volts:
        notes.append(f"it holds up to {engineering(held, 'V')}, more than its rating")
    new_volts, why = new_rating(part.kind, volts, held)
    if why:
        notes.append(why)
    if part.kind in ("electrolytic", "tantalum", "capacitor") and not plus:
        notes.append("which leg is positive cannot be told from the drawing: record how it sits before it is removed")
    if not part.original:
        notes.append("not the original: somebody replaced it before")
    where = f"{part.position[0]:g}, {part.position[1]:g} mm" if part.position else ""
    new_value = None if value is None else new_capacitance(part.kind, value)
    return RecapLine(part.ref, part.kind, value, volts, held, plus, new_value, new_volts, part.original, where,
                     (*notes, *part.notes))  # fmt: skip


def advice(kind: str) -> str:
    """What is to be thought of with every part of a kind."""
    return str(_data()["kinds"][kind])


def rated_volts(part: Part) -> float | None:
    """
    The rated voltage that somebody wrote down: as a limit, in the value or in a note. [V]

    >>> rated_volts(Part("C1", "electrolytic", {}, "47u", notes=("16 V, axial",)))
    16.0
    >>> rated_volts(Part("C2", "tantalum", {})) is None
    True
    """
    if "volts" in part.limits:
        return float(part.limits["volts"])
    found = {float(one.replace(",", ".")) for text in (part.value, *part.notes) for one in VOLTS.findall(text)}
    return found.pop() if len(found) == 1 else None


def new_capacitance(kind: str, value: float) -> float:
    """
    The preferred value to buy: the smallest that is not much below the original. [F]

    >>> [round(new_capacitance("electrolytic", one * 1e-6) * 1e6) for one in (8, 16, 32, 50, 100)]
    [10, 15, 33, 47, 100]
    """
    data = _data()
    series = str(data["other_series"].get(kind, data["value"]["series"]))
    return at_least(value * float(data["value"]["least"]), series)


def new_rating(kind: str, volts: float | None, held: float | None) -> tuple[float | None, str]:
    """
    The rating to buy, and what to say about it. [V]

    It is never below the original's, and has a margin over what is held there.

    >>> new_rating("electrolytic", 16.0, 12.0), new_rating("electrolytic", None, None)[0]
    ((16, ''), None)
    """
    data = _data()
    if volts is None and held is None:
        return None, ""
    wanted = max(volts or 0.0, (held or 0.0) * float(data["margin"][kind]))
    rating = next((one for one in data["ratings"][kind] if one >= wanted * (1 - 1e-9)), None)
    if rating is None:
        return None, f"none is listed for {engineering(wanted, 'V')}: ask a maker, or think of two in series with care"
    if volts is None:
        return rating, "the rating was chosen from the voltage there alone: the original's may be higher"
    return rating, ""


def _data() -> dict[str, Any]:
    return table("planning/recap")
