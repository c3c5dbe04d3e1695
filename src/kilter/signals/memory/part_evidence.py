"""
From explanations of a memory's contents to parts: how strongly they speak for each failure mode of each part.

A mode shows in the fault classes that data/memory.toml lists for it. Its evidence is the chance of what was read given
that mode, against the chance of the same where all parts are good: then contents agree, or the image, the wiring or the
reading is at fault, or something that is not in the model.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import log, log1p

from kilter.measure.tables import table
from kilter.signals.memory.bank import Bank, Chip, Driver
from kilter.signals.memory.changes import Change
from kilter.signals.memory.figures import fault_classes, number
from kilter.signals.memory.tallies import log_sum
from kilter.signals.memory.verdict import OUTSIDE, SAME, Verdict, Weighed

Mode = tuple[str, str]
"""(part reference, mode key), as everywhere."""

UNSTABLE = "unstable"
"""Key of the roles of bits that change between reads."""

UNSTABLE_CLASSES = (SAME, "cells", "fade", "data_open", "dead_noise")
"""Classes in which a memory that is at times right may show."""


def evidence_factors(verdict: Verdict, bank: Bank, *, unstable: bool = False) -> dict[Mode, float]:
    """
    Log likelihood ratio of what was read, for each failure mode against 'all parts good'.

    Args:
        verdict: Of a dump or a fail list of this bank.
        bank: As it was read: on its board, or one chip alone in a reader.
        unstable: Whether bits changed between reads.

    Returns:
        By (part, mode), for modes of which this evidence says something; none beyond the cap of the data file.
    """
    shows: dict[Mode, list[Weighed]] = {}
    for one in verdict.every:
        for mode in set(_modes(one, bank)):
            shows.setdefault(mode, []).append(one)
    good, cap = _log_good(verdict.every), number("evidence_cap")
    outside = log_sum([one.log_likelihood for one in verdict.every if one.kind == OUTSIDE])
    factors = {mode: _log_mode(shown, outside) - good for mode, shown in shows.items()}
    if unstable:
        factors |= _intermittent(verdict, bank, outside, good)
    top = max(factors.values(), default=0.0)
    return {mode: _capped(ratio, top, cap) for mode, ratio in sorted(factors.items())}


def _capped(ratio: float, top: float, cap: float) -> float:
    """
    The ratio where none may exceed the cap: the best comes down to it, and those near the best keep their distance.

    What lies far below the best explains nothing that the best does not; it then counts neither for nor against.
    """
    lowered = ratio - max(top - cap, 0.0)
    return min(max(lowered, min(ratio, 0.0), -cap), cap)


def _log_good(every: Sequence[Weighed]) -> float:
    """Log chance of what was read where no part is faulty."""
    same, share = [one.log_likelihood for one in every if one.kind == SAME], number("healthy_same")
    others = [one for one in every if one.kind != SAME and _no_part(one)]
    return log_sum([log(share) + log_sum(same), log1p(-share) + _mixture(others)])


def _no_part(one: Weighed) -> bool:
    classes = fault_classes()
    kinds = [change.kind for change in one.hypothesis] or [one.kind]
    return all(kind == OUTSIDE or not classes[kind].part for kind in kinds)


def _log_mode(shown: Sequence[Weighed], outside: float) -> float:
    share = number("outside_share")
    return log_sum([log1p(-share) + _mixture(shown), log(share) + outside])


def _mixture(explanations: Sequence[Weighed]) -> float:
    """Log chance under some one of them, each as likely as its prior says."""
    return log_sum([one.log_joint for one in explanations]) - log_sum([one.log_prior for one in explanations])


def _intermittent(verdict: Verdict, bank: Bank, outside: float, good: float) -> dict[Mode, float]:
    shown = [one for one in verdict.every if one.kind in UNSTABLE_CLASSES]
    ratio = _log_mode(shown, outside) - good + log(number("unstable_ratio"))
    return {(chip.ref, mode): ratio for chip in bank.chips for role, mode in _roles(UNSTABLE) if role == "chip"}


def _modes(one: Weighed, bank: Bank) -> Iterator[Mode]:
    """Failure modes that can make this explanation; a pair of changes speaks for what makes either."""
    for change in one.hypothesis or (Change(one.kind),):
        for role, mode in _roles(change.kind):
            for part in _parts(role, change, bank):
                yield from ((part.ref, key) for key in _keys(mode, change, part))


def _roles(kind: str) -> list[tuple[str, str]]:
    rows: Mapping[str, list[list[str]]] = table("memory")["roles"]
    return [(role, mode) for role, mode in rows.get(kind, [])]


def _parts(role: str, change: Change, bank: Bank) -> list[Chip] | list[Driver]:
    """Parts in that role which this change could come from."""
    if role == "driver":
        if change.region is not None:
            return []
        return [one for one in bank.drivers if any(one.pins_of(change.kind, line) for line in change.lines)]
    if change.region is not None and len(bank.chips) > 1:
        return [chip for chip in bank.chips if chip.region == change.region]
    if change.kind.startswith("address") and len(bank.chips) > 1:
        return []
    lines = change.lines if change.kind.startswith("data") else ()
    return [chip for chip in bank.chips if all(line in chip.lines for line in lines)]


def _keys(mode: str, change: Change, part: Chip | Driver) -> Iterator[str]:
    """Mode keys of that part: with the pins of the lines, of select or of supply where the mode is an open pin."""
    if "{" not in mode:
        yield mode
    elif "{pin}" in mode:
        yield from (mode.format(pin=pin) for line in change.lines for pin in part.pins_of(change.kind, line))
    elif isinstance(part, Chip):
        pins = part.select_pins if "{select}" in mode else part.supply_pins
        yield from (mode.format(select=pin, supply=pin) for pin in pins)


@dataclass(frozen=True)
class Place:
    """A part and pins that an explanation points to, for people."""

    part: str
    pins: tuple[str, ...] = field(default=())


def places(one: Weighed, bank: Bank) -> tuple[Place, ...]:
    """The parts, with the pins of the lines, at which to look for this explanation."""
    found: dict[str, dict[str, None]] = {}
    for change in one.hypothesis or (Change(one.kind),):
        for role in dict.fromkeys(role for role, _ in _roles(change.kind)):
            for part in _parts(role, change, bank):
                pins = found.setdefault(part.ref, {})
                pins.update({pin: None for line in change.lines for pin in part.pins_of(change.kind, line)})
    return tuple(Place(ref, tuple(pins)) for ref, pins in found.items())
