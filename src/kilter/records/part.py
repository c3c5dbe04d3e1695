"""A part: one replaceable thing on a board."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

NO_LIMITS: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Part:
    """
    One replaceable thing.

    Args:
        ref: Reference designator, such as 'C12'.
        kind: Key into the part kinds data, such as 'resistor' or 'electrolytic'.
        pins: Pin name to net name, in pin order.
        value: The value as printed in the netlist or board file, for people.
        number: The value in SI units where the kind has one (ohm, farad, henry, volt), else None.
        tolerance: Relative half-width that about 95 % of healthy parts keep (two standard deviations).
        position: (x, y) in millimetres from the board's corner, y downwards, else None.
        socketed: A hand can pull it without heat.
        original: Still the part that left the factory.
        notes: Free words for people; 'guessed' kinds say so here.
        limits: Most that it may bear, where known: 'watts', 'volts' across it, 'amps' through it.
        drifts: Factors on its value to which such a part may have drifted; empty where the sizes of its kind will do.
    """

    ref: str
    kind: str
    pins: Mapping[str, str]
    value: str = ""
    number: float | None = None
    tolerance: float | None = None
    position: tuple[float, float] | None = None
    socketed: bool = False
    original: bool = True
    notes: tuple[str, ...] = ()
    drifts: tuple[float, ...] = ()
    limits: Mapping[str, float] = field(default_factory=lambda: NO_LIMITS)
