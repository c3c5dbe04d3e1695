"""One way to read a marking: what it would say, by which scheme, and what speaks for and against it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from kilter.measure.e_series import CLOSE, belongs
from kilter.measure.tables import table

CAPACITORS = ("capacitor", "ceramic", "film", "electrolytic", "tantalum")
LIKELY, POSSIBLE, UNLIKELY = "likely", "possible", "unlikely"


@dataclass(frozen=True)
class Interpretation:
    """
    One reading of a marking.

    Args:
        scheme: Its key, such as 'letter_code'.
        kind: Part kind that the marking would be on: 'resistor', 'capacitor', 'chip', ...; 'date' for a date.
        words: For people.
        fields: What it says, in SI units: resistance, capacitance, inductance, tolerance [below, above], volts...
        weight: How much likelier it is than one of weight 1; only ranks (data/markings/weights.toml).
        because: What speaks for and against it.
        source: Where the scheme is from.
    """

    scheme: str
    kind: str
    words: str
    fields: Mapping[str, Any]
    weight: float = 1.0
    because: tuple[str, ...] = ()
    source: str = ""


@dataclass(frozen=True)
class Ranked:
    """
    An interpretation among its rivals.

    Args:
        reading: The interpretation.
        standing: 'likely', 'possible' or 'unlikely'. At most one is likely, and only with a clear lead.
        share: Of the weight of all; for ranking, no measured probability.
    """

    reading: Interpretation
    standing: str
    share: float


def weight(key: str) -> float:
    """A weight of data/markings/weights.toml."""
    return float(table("markings/weights")[key])


def code(key: str) -> Mapping[str, Any]:
    """A table of data/markings/codes.toml."""
    found: Mapping[str, Any] = table("markings/codes")[key]
    return found


def size_weight(value: float, of: str, tolerance: float | None) -> tuple[float, tuple[str, ...]]:
    """
    How usual a value is, and why.

    Args:
        value: Above 0, in SI units.
        of: 'ohm', 'ceramic', 'electrolytic' or 'henry'.
        tolerance: ± share; None where the marking does not tell.

    >>> size_weight(4700.0, "ohm", 0.05), size_weight(4800.0, "ohm", 0.05)
    ((1.0, ()), (0.02, ('no preferred value',)))
    """
    low, high = code("usual_size")[of]
    factor, reasons = _series_weight(value, tolerance)
    if of == "electrolytic" and _older(value):
        factor, reasons = weight("in_series"), ()
    if not low * (1 - 1e-9) <= value <= high * (1 + 1e-9):
        return factor * weight("unusual_size"), (*reasons, "an unusual size")
    return factor * weight("usual_size"), reasons


def _series_weight(value: float, tolerance: float | None) -> tuple[float, tuple[str, ...]]:
    wanted = "E24" if tolerance is None else _series_of(tolerance)
    coarse = wanted in ("E6", "E12")
    if belongs(value, wanted) or (not coarse and belongs(value, "E24")):
        return weight("in_series"), ()
    for finer in ("E12", "E24") if coarse else ("E96", "E192"):
        if belongs(value, finer):
            told = "5 %" if tolerance is None else f"{tolerance * 100:g} %"
            return weight("in_finer_series"), (f"in {finer}, finer than {told} asks for",)
    return weight("out_of_series"), ("no preferred value",)


def _older(value: float) -> bool:
    """Whether an electrolytic of old was made in this value, which no E series has."""
    figures = float(f"{value:.6e}".partition("e")[0])
    return any(abs(figures / one - 1) < CLOSE for one in code("older_electrolytics")["values"])


def _series_of(tolerance: float) -> str:
    return next(str(name) for least, name in code("series_of")["rows"] if tolerance >= least - 1e-9)


def ranked(readings: Iterable[Interpretation]) -> tuple[Ranked, ...]:
    """
    The readings, best first, those that say the same thing taken together.

    One is called likely only where no other comes near it; where the first two are close, both are 'possible'.
    """
    merged: dict[tuple[bool, str], Interpretation] = {}
    for one in readings:
        said = one.kind in CAPACITORS, one.words
        same = merged.get(said)
        best = one if same is None else max(same, one, key=lambda way: way.weight)
        merged[said] = replace(best, weight=one.weight + (same.weight if same else 0.0))
    order = sorted((one for one in merged.values() if one.weight > 0), key=lambda one: -one.weight)
    total = sum(one.weight for one in order)
    return tuple(Ranked(one, _standing(place, order), one.weight / total) for place, one in enumerate(order))


def _standing(place: int, order: list[Interpretation]) -> str:
    mine = order[place].weight
    if place == 0:
        lead = len(order) == 1 or mine >= weight("clear_lead") * order[1].weight
        return LIKELY if lead and mine >= weight("least_likely") else POSSIBLE
    return POSSIBLE if mine >= weight("least_possible") * order[0].weight else UNLIKELY
