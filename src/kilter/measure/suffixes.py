"""Suffixes: what the letters behind a number mean, 'k', 'µF', 'mohm', and where they may have been meant otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from kilter.measure.figures import LIKELY, POSSIBLE
from kilter.measure.units import Prefix, Unit, prefixes, units, units_spelled

CAPITAL_PRINT = frozenset("PNU")
"""Prefixes that are capital in all-capital print only; behind them the unit must be capital too."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """
    One meaning of a suffix.

    Args:
        unit: The unit.
        factor: From the number written to the unit, exact.
        standing: 'likely', 'possible' or 'unlikely'.
        reason: Why it may be read so; '' where nothing else comes to mind.
    """

    unit: Unit
    factor: Decimal
    standing: str = LIKELY
    reason: str = ""


def meanings(suffix: str, expected: Unit | None) -> tuple[Meaning, ...]:
    """
    What a suffix can mean; where it is doubtful, in the order of the unit's slips.

    Args:
        suffix: The letters behind the number; '' for none.
        expected: The unit that the value is wanted in; None where any will do.

    Returns:
        Empty where the suffix means nothing, or nothing in the expected unit.

    >>> [(meaning.unit.key, float(meaning.factor)) for meaning in meanings("k", None)]
    [('', 1000.0)]
    >>> from kilter.measure.units import unit
    >>> [float(meaning.factor) for meaning in meanings("m", unit("ohm"))]
    [1000000.0, 0.001]
    """
    found: dict[tuple[str, Decimal], Meaning] = {}
    for prefix, rest, unit, factor in _splits(suffix, expected):
        wanted = _as_expected(unit, expected)
        if wanted is None:
            continue
        for meaning in _with_doubts(prefix, rest, wanted, factor):
            found.setdefault((meaning.unit.key, meaning.factor), meaning)
    return tuple(found.values())


def _splits(suffix: str, expected: Unit | None) -> Iterator[tuple[Prefix, str, Unit, Decimal]]:
    """Every way to cut a suffix into prefix and unit: (prefix, unit as spelled, unit, factor)."""
    for prefix in prefixes().values():
        for word in prefix.words:
            rest = suffix[len(word) :].strip()
            if not suffix.startswith(word) or (word in CAPITAL_PRINT and rest != rest.upper()):
                continue
            for unit, own in _units_for(rest, prefix, expected):
                yield prefix, rest, unit, Decimal(repr(prefix.factor)) * Decimal(repr(own))


def _units_for(rest: str, prefix: Prefix, expected: Unit | None) -> Iterator[tuple[Unit, float]]:
    if not rest:
        unit = expected or units()[""]
        if not prefix.key or unit.bare_prefix:
            yield unit, 1.0
        return
    for unit, own in units_spelled(rest):
        if not prefix.key or (own == 1.0 and unit.prefixes != ("",)):
            yield unit, own


def _as_expected(unit: Unit, expected: Unit | None) -> Unit | None:
    """The expected unit where this one may stand for it, the unit itself where none is expected, else None."""
    if expected is None or unit.key == expected.key:
        return unit
    return expected if expected.loosely and expected.loosely == unit.key else None


def _with_doubts(prefix: Prefix, rest: str, unit: Unit, factor: Decimal) -> Iterator[Meaning]:
    doubted = {word.lower() if len(word) > 1 else word for word in unit.doubts.get(prefix.key, ())}
    if (rest.lower() if len(rest) > 1 else rest) not in doubted:
        yield Meaning(unit, factor)
        return
    for slip, value in unit.slip_factors().items():
        how = "taken at its word" if slip == prefix.key else f"written for '{_shown(slip)}'"
        yield Meaning(unit, Decimal(repr(value)), POSSIBLE, f"'{prefix.key}' {how}")


def _shown(slip: str) -> str:
    return prefixes()[slip].shown if slip in prefixes() else slip
