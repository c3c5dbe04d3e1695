"""
Weibull lives on several clocks at once: hours under power, times switched on, years.

A part fails by whichever comes first, so its survival is the product over the clocks: exp(-sum (t / life)^shape).
Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.6.2 (Weibull) and 8.1.8.1 (competing risks).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import OutOfRange

Floats = NDArray[np.float64]
TENTH = 0.1


@dataclass(frozen=True)
class Law:
    """
    A Weibull law on one clock.

    Args:
        life: By which 63.2 % have failed. [ticks of the clock]
        shape: 1 for failures by chance, above for wear.

    >>> round(Law(1000, 2).survival(500), 6), round(Law(1000, 2).mean, 3)
    (0.778801, 886.227)
    """

    life: float
    shape: float

    def __post_init__(self) -> None:
        if not (self.life > 0 and self.shape > 0):
            raise OutOfRange("Cannot use a law of wear", f"life {self.life:g} and shape {self.shape:g}", "both above 0",
                             "Correct them.")  # fmt: skip

    @classmethod
    def from_tenth(cls, tenth: float, shape: float) -> Law:
        """
        The law under which a tenth has failed by a time.

        >>> round(Law.from_tenth(324.593, 2).life, 2)
        1000.0
        """
        return cls(tenth / (-math.log(1 - TENTH)) ** (1 / shape), shape)

    def hazard_sum(self, time: ArrayLike) -> Floats:
        """Cumulative hazard at ages, any shape."""
        return (np.asarray(time, np.float64) / self.life) ** self.shape

    def survival(self, time: float) -> float:
        """Share that lives on at an age."""
        return math.exp(-float(self.hazard_sum(time)))

    def hazard(self, time: float) -> float:
        """
        Failures per tick among those that live.

        >>> round(Law(1000, 2).hazard(500), 6)
        0.001
        """
        return float(self.shape / self.life * (time / self.life) ** (self.shape - 1))

    def age_at(self, share: float) -> float:
        """
        Age by which a share has failed.

        >>> round(Law(1000, 2).age_at(0.1), 3)
        324.593
        """
        return float(self.life * (-math.log(1 - share)) ** (1 / self.shape))

    @property
    def mean(self) -> float:
        """Mean life."""
        return self.life * math.gamma(1 + 1 / self.shape)

    def scaled(self, factor: float) -> Law:
        """The law with all lives so many times as long."""
        return Law(self.life * factor, self.shape)


def warmer_life(life: float, told_at: float, celsius: float, halves_every: float, longest: float = math.inf) -> float:
    """
    Life at another temperature, halved by every so many kelvins more: the rule for electrolytics.

    Args:
        life: At the temperature for which it is told. [h]
        told_at: That temperature. [degC]
        celsius: Temperature of the part. [degC]
        halves_every: Rise that halves it. [K]
        longest: What is believed at most. [h]

    >>> warmer_life(2000, 85, 45, 10), warmer_life(2000, 85, 5, 10, longest=131400)
    (32000.0, 131400)
    """
    if not (-60 <= celsius <= told_at + 40 and halves_every > 0):
        raise OutOfRange("Cannot tell a life at a temperature", f"{celsius:g} degC", f"-60 to {told_at + 40:g} degC",
                         "Check the temperature.")  # fmt: skip
    return min(life * 2 ** ((told_at - celsius) / halves_every), longest)


def arrhenius_factor(low: float, high: float, electronvolts: float) -> float:
    """
    How many times faster something goes at a higher temperature, by Arrhenius' law.

    Args:
        low, high: Temperatures. [degC]
        electronvolts: Activation energy. [eV]

    Source: NIST/SEMATECH e-Handbook, 8.1.5.1; Boltzmann's constant in eV/K.

    >>> round(arrhenius_factor(25, 125, 0.5))
    133
    """
    boltzmann, zero = 8.617333262e-5, 273.15
    return math.exp(electronvolts / boltzmann * (1 / (low + zero) - 1 / (high + zero)))


@dataclass(frozen=True)
class Wearing:
    """
    A part in its use: laws on clocks that tick so often a year.

    Args:
        laws: Each with ticks of its clock a year and the ticks that the part has behind it.
    """

    laws: tuple[tuple[Law, float, float], ...]

    def survival(self, years: ArrayLike, *, new: bool = False) -> Floats:
        """Share that lives on after so many years, of those that live now; of new ones if `new`. Any shape."""
        t = np.asarray(years, np.float64)
        total = np.zeros_like(t)
        for law, rate, age in self.laws:
            start = 0.0 if new else age
            total += law.hazard_sum(start + rate * t) - law.hazard_sum(start)
        result: Floats = np.exp(-total)
        return result

    @property
    def lived(self) -> float:
        """Share of new parts that live to the ticks that this one has behind it."""
        return math.exp(-math.fsum(float(law.hazard_sum(age)) for law, _, age in self.laws))

    def scaled(self, factor: float) -> Wearing:
        """With all lives so many times as long."""
        return Wearing(tuple((law.scaled(factor), rate, age) for law, rate, age in self.laws))

    @property
    def wears(self) -> bool:
        """Whether any law that ticks wears out, so that a new part is better than an old one."""
        return any(law.shape > 1 and rate > 0 for law, rate, _ in self.laws)
