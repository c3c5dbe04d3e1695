"""Quantities: what can be read at a point, as a number or as a word, from data/quantities.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.measure.units import units_spelled


@dataclass(frozen=True, slots=True)
class Quantity:
    """
    Something that can be read.

    Args:
        key: Such as 'voltage' or 'level'.
        words: For people.
        unit: Key of the unit; '' for a word, a share or a plain number.
        scale: 'linear' or 'log' (see kilter.measure.scales).
        floor: On a log scale, what counts as zero. [unit]
        low: Smallest reading; what lies below is clipped. [unit]
        high: Largest reading; 'over limit' lands here. [unit]
        over_limit: Standard deviation of where 'over limit' begins. [scaled]
        categories: The words, for a quantity read as a word; empty where a board's blocks make them.
        read_as: 'number' or 'word'.
        powered: The state it wants; None for either.
        minutes: Time for one reading.
        grade: Intervention grade, 0 look to 6 irreversible.
        risk_object: Chance of harming the object.
        risk_person: Chance of harming the person, before precautions.
        default_instrument: Key of the instrument assumed where none is named.
        source: Of the numbers.
    """

    key: str
    words: str
    unit: str
    scale: str
    floor: float
    low: float
    high: float
    over_limit: float
    categories: tuple[str, ...]
    read_as: str
    powered: bool | None
    minutes: float
    grade: int
    risk_object: float
    risk_person: float
    default_instrument: str
    source: str

    @property
    def numeric(self) -> bool:
        """Whether it is read as a number."""
        return self.read_as == "number"


@cache
def quantities() -> Mapping[str, Quantity]:
    """Every quantity, by key."""
    return {key: _quantity(key, entry) for key, entry in table("quantities").items()}


def quantity(key: str) -> Quantity:
    """
    The quantity of that key.

    Raises:
        BadInput: No such quantity; the message lists them.

    >>> quantity("resistance").unit, quantity("resistance").scale, quantity("level").categories[:2]
    ('ohm', 'log', ('low', 'high'))
    """
    if key in quantities():
        return quantities()[key]
    raise BadInput(
        "Cannot look up a quantity",
        f"the word '{key}'",
        ", ".join(quantities()),
        "Use one of these words, or leave the quantity out where the unit says it.",
    )


def guess_quantity(unit_or_word: str) -> str | None:
    """
    The quantity that a unit or a category word stands for; None where it could be several or none.

    >>> guess_quantity("V"), guess_quantity("Ω"), guess_quantity("pulsing"), guess_quantity("none")
    ('voltage', 'resistance', 'level', None)
    """
    word = unit_or_word.strip()
    if word.lower() in quantities():
        return word.lower()
    by_word = [key for key, entry in quantities().items() if word.lower() in entry.categories]
    if by_word:
        return by_word[0] if len(by_word) == 1 else None
    meant = {entry.key for entry, _ in units_spelled(word) if entry.key}
    by_unit = [key for key, entry in table("quantities").items() if entry.get("usual") and entry["unit"] in meant]
    return by_unit[0] if len(by_unit) == 1 else None


def _quantity(key: str, entry: Mapping[str, Any]) -> Quantity:
    categories = tuple(entry.get("categories", ()))
    return Quantity(
        key=key,
        words=entry["words"],
        unit=entry.get("unit", ""),
        scale=entry.get("scale", "linear"),
        floor=float(entry.get("floor", 0.0)),
        low=float(entry.get("low", 0.0)),
        high=float(entry.get("high", 0.0)),
        over_limit=float(entry.get("over_limit", 0.0)),
        categories=categories,
        read_as=entry.get("read_as", "word" if categories else "number"),
        powered=entry.get("powered"),
        minutes=float(entry["minutes"]),
        grade=int(entry["grade"]),
        risk_object=float(entry["risk_object"]),
        risk_person=float(entry["risk_person"]),
        default_instrument=entry["instrument"],
        source=entry["source"],
    )
