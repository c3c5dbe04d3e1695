"""Instruments: classes of meter, and the senses, with how well each reads, from data/instruments.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.accuracy import Accuracy
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.measure.tables import table

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TestSource:
    """
    What a meter applies in its ohms or diode mode: a voltage behind a resistance.

    Args:
        open_volts: Between the open leads. [V]
        amps: Through shorted leads. [A]
        shows: Largest voltage displayed in diode mode; infinite where it does not apply. [V]
        red_positive: Whether the red lead is the positive one.
    """

    __test__ = False  # not a test case, whatever a test runner thinks of the name

    open_volts: float
    amps: float
    shows: float = float("inf")
    red_positive: bool = True

    @property
    def series_ohm(self) -> float:
        """Resistance behind the open-circuit voltage. [ohm]"""
        return self.open_volts / self.amps


@dataclass(frozen=True, slots=True)
class Instrument:
    """
    One class of instrument.

    Args:
        key: Such as 'dmm' or 'logic_probe'.
        words: For people.
        outlier_share: Share of readings that are grossly wrong.
        source: Of the numbers.
        input_ohm: Across what it reads as a voltage; infinite where it does not touch. [ohm]
        ohm_per_volt: Of a moving-coil meter; 0 for others. [ohm/V]
        ohms_source: What it applies to read a resistance, or None.
        diode_source: What it applies in diode mode, or None.
        reads: Accuracy of each quantity read as a number.
        sees: Quantities read as a word.
    """

    key: str
    words: str
    outlier_share: float
    source: str
    input_ohm: float = float("inf")
    ohm_per_volt: float = 0.0
    ohms_source: TestSource | None = None
    diode_source: TestSource | None = None
    reads: Mapping[str, Accuracy] = field(default_factory=dict)
    sees: tuple[str, ...] = ()

    def can_read(self, quantity_key: str) -> bool:
        """Whether it reads this quantity at all."""
        return quantity_key in self.reads or quantity_key in self.sees

    def standard_uncertainty(self, quantity_key: str, value: float) -> float:
        """
        Standard uncertainty (k = 1) of one reading; 0 for a word, infinite for 'over limit'. [unit of the quantity]

        Raises:
            BadInput: The instrument does not read that quantity.

        >>> round(instrument("dmm").standard_uncertainty("voltage", 5.0), 4)
        0.0202
        """
        return float(self.standard_uncertainties(quantity_key, value))

    def standard_uncertainties(self, quantity_key: str, values: ArrayLike) -> Floats:
        """The same for many values at once, any shape."""
        if quantity_key in self.reads:
            return self.reads[quantity_key].standard(values)
        if quantity_key in self.sees:
            return np.zeros(np.shape(values))
        quantity(quantity_key)
        raise BadInput(
            f"Cannot weigh a reading of {quantity_key}",
            f"the instrument '{self.key}' ({self.words}), which does not read it",
            ", ".join([*self.reads, *self.sees]) + f" with this one; {', '.join(readers(quantity_key))} for that",
            "Name the instrument that was used, or give the reading's uncertainty.",
        )

    def covers(self, quantity_key: str, value: float) -> bool:
        """Whether its display could show such a value; 'over limit' it can show."""
        limit = self.reads[quantity_key].top if quantity_key in self.reads else 0.0
        return abs(value) <= limit or abs(value) == float("inf")

    def loading_ohm(self, volts: float) -> float:
        """
        Resistance across the points while it reads that voltage. [ohm]

        >>> instrument("dmm").loading_ohm(5.0), instrument("analogue_meter").loading_ohm(5.0)
        (10000000.0, 200000.0)
        """
        if not self.ohm_per_volt:
            return self.input_ohm
        ranges = self.reads["voltage"].ranges
        return self.ohm_per_volt * next((full for full in ranges if abs(volts) <= full), ranges[-1])


@cache
def instruments() -> Mapping[str, Instrument]:
    """Every instrument, by key."""
    return {key: _instrument(key, entry) for key, entry in table("instruments").items()}


def instrument(key: str) -> Instrument:
    """
    The instrument of that key, spaces and case aside.

    Raises:
        BadInput: No such instrument; the message lists them.

    >>> instrument("logic probe").key
    'logic_probe'
    """
    name = "_".join(key.lower().replace("-", " ").replace("_", " ").split())
    if name in instruments():
        return instruments()[name]
    raise BadInput(
        "Cannot look up an instrument",
        f"the name '{key}'",
        ", ".join(instruments()),
        "Use the class that is nearest to yours, or give the reading's uncertainty instead.",
    )


def readers(quantity_key: str) -> list[str]:
    """Keys of the instruments that read a quantity."""
    return [key for key, entry in instruments().items() if entry.can_read(quantity_key)]


def _instrument(key: str, entry: Mapping[str, Any]) -> Instrument:
    red_positive = bool(entry.get("red_positive", True))
    return Instrument(
        key=key,
        words=entry["words"],
        outlier_share=float(entry["outlier_share"]),
        source=entry["source"],
        input_ohm=float(entry.get("input_ohm", "inf")),
        ohm_per_volt=float(entry.get("ohm_per_volt", 0.0)),
        ohms_source=_source(entry.get("ohms"), red_positive=red_positive),
        diode_source=_source(entry.get("diode"), red_positive=red_positive),
        reads={name: _accuracy(law) for name, law in entry.get("reads", {}).items()},
        sees=tuple(entry.get("sees", ())),
    )


def _source(entry: Mapping[str, float] | None, *, red_positive: bool) -> TestSource | None:
    if entry is None:
        return None
    return TestSource(entry["volts"], entry["amps"], entry.get("shows", float("inf")), red_positive)


def _accuracy(entry: Mapping[str, Any]) -> Accuracy:
    return Accuracy(
        law=entry["law"],
        percent=float(entry["percent"]),
        ranges=tuple(map(float, entry["ranges"])),
        digits=float(entry.get("digits", 0)),
        counts=float(entry.get("counts", 1)),
    )
