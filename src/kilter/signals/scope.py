"""How well the instrument that made a capture can be trusted: gain, zero and time base, as standard uncertainties."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from kilter.signals.settings import setting


@dataclass(frozen=True, slots=True)
class Scope:
    """
    Standard uncertainties of an instrument.

    Args:
        gain: Of a voltage difference, relative.
        offset: Of the zero line, as share of the record's greatest distance from zero or its swing.
        time_base: Of the sample interval, relative.
    """

    gain: float = field(default_factory=lambda: setting("vertical_gain"))
    offset: float = field(default_factory=lambda: setting("vertical_offset"))
    time_base: float = field(default_factory=lambda: setting("time_base"))

    def of_level(self, level: float, reach: float, own: float) -> float:
        """
        Uncertainty of a voltage against zero.

        Args:
            level: The voltage. [V]
            reach: The record's greatest distance from zero, or its swing if that is larger. [V]
            own: Uncertainty from the samples. [V]
        """
        return math.hypot(own, self.gain * level, self.offset * reach)

    def of_difference(self, difference: float, own: float) -> float:
        """Uncertainty of a difference of two voltages: the zero line drops out. [V]"""
        return math.hypot(own, self.gain * difference)

    def of_time(self, time: float, own: float, interval: float) -> float:
        """Uncertainty of a time or a rate; `interval` is the relative one from the digits of the file."""
        return math.hypot(own, time * self.time_base, time * interval)


IDEAL = Scope(0.0, 0.0, 0.0)
"""An instrument without error of its own: what remains is what the samples tell."""
