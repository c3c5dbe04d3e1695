"""Units: their symbols, spellings and prefixes, from data/units.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

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
        words: Spellings with factor one, preferred case.
        spelled: Spellings that carry a factor of their own, such as minutes to seconds.
        prefixes: Keys of the prefixes used in print, ascending.
        low: Smallest magnitude met on a bench, zero apart.
        high: Largest magnitude met on a bench.
        loosely: Key of the plain unit that may stand for this one, or ''.
        doubt_m: Unit spellings behind which 'm' is doubtful; '' is: unit left out.
        doubt_mega: The same for 'M'.
        doubt_bare: Prefixes that a bare number may have been meant with.
        bare_prefix: Whether a prefix alone, as in '4k7', may stand for this unit.
    """

    key: str
    shown: str
    words: tuple[str, ...]
    spelled: Mapping[str, float] = field(default_factory=dict)
    prefixes: tuple[str, ...] = ("",)
    low: float = 0.0
    high: float = float("inf")
    loosely: str = ""
    doubt_m: tuple[str, ...] = ()
    doubt_mega: tuple[str, ...] = ()
    doubt_bare: tuple[str, ...] = ()
    bare_prefix: bool = True

    def believable(self, value: float) -> bool:
        """Whether such a value is met on a bench: zero, over limit, or within the range."""
        return value == 0 or abs(value) == float("inf") or self.low <= abs(value) <= self.high


@cache
def units() -> Mapping[str, Unit]:
    """Every unit, by key."""
    return {key: _unit(key, dict(entry)) for key, entry in table("units")["units"].items()}


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
    found = units_spelled(word)
    if word in units():
        return units()[word]
    if len(found) == 1:
        return found[0][0]
    raise BadInput(
        "Cannot look up a unit",
        f"the word '{word}'",
        ", ".join(repr(key) for key in units() if key) + " and %",
        "Use one of these symbols.",
    )


@cache
def units_spelled(word: str) -> tuple[tuple[Unit, float, bool], ...]:
    """Every unit that a spelling can mean: (unit, factor, whether the case matches); exact case first."""
    found = [
        (entry, factor, spelling == word)
        for entry in units().values()
        for spelling, factor in ({word: 1.0 for word in entry.words} | dict(entry.spelled)).items()
        if spelling.lower() == word.lower()
    ]
    best: dict[tuple[str, float], tuple[Unit, float, bool]] = {}
    for entry, factor, exact in sorted(found, key=lambda row: not row[2]):
        best.setdefault((entry.key, factor), (entry, factor, exact))
    return tuple(best.values())


def _unit(key: str, entry: dict[str, object]) -> Unit:
    low, high = entry.pop("range")  # type: ignore[misc]
    lists = {
        "words": entry.get("words", []),
        "prefixes": entry.get("prefixes", [""]),
        "doubt_m": entry.get("doubt_m", []),
        "doubt_mega": entry.get("doubt_M", []),
        "doubt_bare": entry.get("doubt_bare", []),
    }
    return Unit(
        key=key,
        shown=str(entry.get("shown", key)),
        spelled=dict(entry.get("spelled", {})),  # type: ignore[call-overload]
        low=float(low),  # type: ignore[has-type]
        high=float(high),  # type: ignore[has-type]
        loosely=str(entry.get("loosely", "")),
        bare_prefix=bool(entry.get("bare_prefix", True)),
        **{name: tuple(words) for name, words in lists.items()},  # type: ignore[arg-type]
    )
