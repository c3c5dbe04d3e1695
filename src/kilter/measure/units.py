"""Units: their symbols, spellings and prefixes, from data/units.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table


@dataclass(frozen=True, slots=True)
class Prefix:
    """A decimal prefix: its key ('u'), factor, spellings and how it is shown ('µ')."""

    key: str
    factor: float
    words: tuple[str, ...]
    shown: str


@dataclass(frozen=True, slots=True)
class Unit:
    """
    One unit and the doubts that come with it.

    Args:
        key: As kept in a Measured: 'ohm', 'V', 'V AC', ...; '' is a plain number or a share.
        shown: As shown to people.
        words: Spellings with factor one.
        spelled: Spellings that carry a factor of their own, such as minutes to seconds.
        prefixes: Keys of the prefixes used in print, ascending.
        low: Smallest magnitude met on a bench, zero apart.
        high: Largest magnitude met on a bench.
        signed: Whether values below zero are met.
        loosely: Key of the plain unit that may stand for this one, or ''.
        doubts: For prefix keys 'm' and 'M', the unit spellings behind which it is doubtful; '' is: unit left out.
        slips: What a doubtful prefix may have been meant as: prefix keys or words of 'spelled'.
        doubt_bare: Prefixes that a bare number may have been meant with.
        digit_code: Prefix in which three bare digits may be a code ('104' for 100 nF), or ''.
        bare_prefix: Whether a prefix alone, as in '4k7', may stand for this unit.
        endless_from: From here up 'more than so much' means over limit.
    """

    key: str
    shown: str
    words: tuple[str, ...]
    spelled: Mapping[str, float]
    prefixes: tuple[str, ...]
    low: float
    high: float
    signed: bool = True
    loosely: str = ""
    doubts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    slips: tuple[str, ...] = ()
    doubt_bare: tuple[str, ...] = ()
    digit_code: str = ""
    bare_prefix: bool = True
    endless_from: float = float("inf")

    def believable(self, value: float) -> bool:
        """Whether such a value is met on a bench: zero, over limit, or within the range, with a fitting sign."""
        if value < 0 and not self.signed:
            return False
        return value == 0 or abs(value) == float("inf") or self.low <= abs(value) <= self.high

    def slip_factors(self) -> dict[str, float]:
        """What a doubtful prefix may have been meant as, with the factor of each."""
        return {slip: self.spelled[slip] if slip in self.spelled else prefixes()[slip].factor for slip in self.slips}


@cache
def units() -> Mapping[str, Unit]:
    """Every unit, by key."""
    return {key: _unit(key, entry) for key, entry in table("units")["units"].items()}


@cache
def prefixes() -> Mapping[str, Prefix]:
    """Every prefix, by key; '' is no prefix."""
    known = {
        key: Prefix(key, float(entry["factor"]), tuple(entry["words"]), entry.get("shown", key))
        for key, entry in table("units")["prefixes"].items()
    }
    return {"": Prefix("", 1.0, ("",), ""), **known}


def unit(word: str) -> Unit:
    """
    The unit that is spelled so.

    Raises:
        BadInput: No such unit; the message lists the units.

    >>> unit("Ω").key, unit("ohms").key, unit("%").key
    ('ohm', 'ohm', '')
    """
    if word in units():
        return units()[word]
    found = units_spelled(word)
    if len(found) == 1:
        return found[0][0]
    raise BadInput(
        "Cannot look up a unit",
        f"the word '{word}'",
        ", ".join(key for key in units() if key) + " and %",
        "Use one of these symbols.",
    )


@cache
def units_spelled(word: str) -> tuple[tuple[Unit, float], ...]:
    """Every unit that a spelling without prefix can mean, with its factor; single letters keep their case."""
    spellings = _spellings()
    return spellings.get(word, ()) if len(word) == 1 else spellings.get(word.lower(), ())


@cache
def _spellings() -> Mapping[str, tuple[tuple[Unit, float], ...]]:
    found: dict[str, tuple[tuple[Unit, float], ...]] = {}
    for entry in units().values():
        for word, factor in (dict.fromkeys(entry.words, 1.0) | dict(entry.spelled)).items():
            key = word if len(word) == 1 else word.lower()
            if (entry, factor) not in found.get(key, ()):
                found[key] = (*found.get(key, ()), (entry, factor))
    return found


def _unit(key: str, entry: Mapping[str, Any]) -> Unit:
    low, high = entry["range"]
    return Unit(
        key=key,
        shown=entry.get("shown", key),
        words=tuple(entry["words"]),
        spelled={word: float(factor) for word, factor in entry.get("spelled", {}).items()},
        prefixes=tuple(entry["prefixes"]),
        low=float(low),
        high=float(high),
        signed=entry.get("signed", True),
        loosely=entry.get("loosely", ""),
        doubts={"m": tuple(entry.get("doubt_m", ())), "M": tuple(entry.get("doubt_M", ()))},
        slips=tuple(entry.get("slips", ())),
        doubt_bare=tuple(entry.get("doubt_bare", ())),
        digit_code=entry.get("digit_code", ""),
        bare_prefix=entry.get("bare_prefix", True),
        endless_from=float(entry.get("endless_from", "inf")),
    )
