"""Failure counts: of how many parts of a kind and an age how many had failed, and in which way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from math import isfinite, log

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.parts.kinds import GIVES, PartKind, modes_of, part_kind
from kilter.records.part import Part

UNKNOWN = "unknown"
"""A failure whose mode nobody found out. It counts as a failure, and says nothing about modes."""
NO_AGE = ""
"""Band of parts whose age nobody knows."""
EACH = {"open": "open *", "bridge": "bridge *", GIVES: "gives *"}
"""Families of modes that name a pin, two pins or a value: who counts does not say which."""


@dataclass(frozen=True, slots=True)
class Count:
    """
    What was found on parts of one kind and one age.

    Args:
        kind: Key into the part kinds data.
        band: One of `bands()`, or '' where the age is not known.
        parts: How many were looked at in objects that arrived not working and of which it is known what was wrong.
        failures: How many of them had failed, by family of modes or 'unknown'.
        objects: In how many objects.
    """

    kind: str
    band: str
    parts: int
    failures: Mapping[str, int] = field(default_factory=dict)
    objects: int = 1

    @property
    def failed(self) -> int:
        """All failures."""
        return sum(self.failures.values())


def checked(count: Count, doing: str) -> Count:
    """
    The count, if it can be one.

    Raises:
        BadInput: An unknown kind, age band or mode, or more failures than parts.
    """
    part_kind(count.kind, doing=doing)
    families = _families(count.kind)
    wrong = sorted(set(count.failures) - families)
    if wrong:
        raise BadInput(doing, f"the failure mode '{wrong[0]}' of the kind '{count.kind}'", ", ".join(sorted(families)),
                       f"Use one of these; '{UNKNOWN}' where nobody found out.")  # fmt: skip
    if count.band not in (*bands(), NO_AGE):
        raise BadInput(doing, f"the age band '{count.band}'", f"{', '.join(bands())} [years], or nothing",
                       "Use one of these bands.")  # fmt: skip
    if count.parts < 0 or count.objects < 0 or min(count.failures.values(), default=0) < 0:
        raise BadInput(
            doing, f"a number below zero for the kind '{count.kind}'", "counts from 0 on", "Correct the count."
        )
    if count.failed > count.parts:
        raise BadInput(doing, f"{count.failed} failures among {count.parts} parts of the kind '{count.kind}'",
                       "no more failures than parts", "Correct the count.")  # fmt: skip
    return count


@cache
def _families(kind: str) -> frozenset[str]:
    return frozenset({*family_shares(part_kind(kind)), UNKNOWN})


@cache
def bands() -> tuple[str, ...]:
    """
    The age bands, in years.

    >>> bands()[0], bands()[-1]
    ('0-20', '70+')
    """
    starts = table("learning/odds")["ages"]["value"]
    return (*(f"{a}-{b}" for a, b in pairwise(starts)), f"{starts[-1]}+")


def band_of(years: float | None) -> str:
    """
    The band of an age.

    Raises:
        BadInput: An age below zero or not finite.

    >>> band_of(42), band_of(None)
    ('40-50', '')
    """
    if years is None:
        return NO_AGE
    if not (isfinite(years) and years >= 0):
        raise BadInput("Cannot use an age", f"{years} years", "a number of years from 0 on", "Give the age in years.")
    starts: list[float] = table("learning/odds")["ages"]["value"]
    return bands()[sum(years >= start for start in starts) - 1]


def family_shares(kind: PartKind) -> dict[str, float]:
    """
    Handbook share of each family of modes among the failures of a kind; they add up to one.

    >>> round(sum(family_shares(part_kind("logic")).values()), 9)
    1.0
    """
    shares = {mode.key: mode.odds / kind.odds for mode in kind.modes}
    bridged = kind.at_pins.get("bridge", 0.0)
    whole = sum(shares.values())
    found = {key: share * (whole - bridged) / whole for key, share in shares.items()} if bridged else shares
    if bridged:
        found[EACH["bridge"]] = bridged
    if kind.each_pin_open:
        found[EACH["open"]] = kind.each_pin_open
    if kind.each_value:
        found[EACH[GIVES]] = kind.each_value
    return found


def family_of(part: Part, mode: str) -> str:
    """
    The family of one part's mode.

    Raises:
        BadInput: The part has no such mode.

    >>> family_of(Part("R1", "resistor", {}, drifts=(0.5, 1.4)), "value x1.4")
    'high'
    """
    kind, own = part_kind(part.kind), {one.key: one for one in modes_of(part)}
    if mode not in own:
        raise BadInput(
            f"Cannot count a failure of {part.ref}", f"the mode '{mode}'", ", ".join(own), "Use one of these."
        )
    keys = {one.key for one in kind.modes}
    first = mode.split(" ", 1)[0]
    if mode in keys:
        return mode
    if mode == "contact":
        return EACH["open"]
    if first in EACH:
        return EACH[first]
    if first in keys:
        return first
    factor = own[mode].drift or 1.0
    typical = {one.key: one.drift for one in kind.modes if one.drift is not None}
    return min(typical, key=lambda key: abs(log((typical[key] or 1.0) / factor)))
