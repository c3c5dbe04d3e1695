"""
Rectifier and reservoir: ripple, valley, currents and inrush, by the rule of thumb and by steps through time.

The source is a sine behind a resistance; each diode drops a fixed voltage; the load draws a constant current, as a
regulator does. Between two steps the rectifier conducts or does not, and either way the capacitor's voltage has a
closed form. All supplies are stepped side by side. Valid while the valley stays above zero; leakage inductance, which
lowers peak currents, is left out.

Source: the differential equation of an RC circuit; checked against ngspice transients in tests/supply.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import OutOfRange

Floats = NDArray[np.float64]

STEPS = 600
"""Steps in one half period of the mains."""
MOST_HALVES = 400
SETTLED = 1e-4
"""Change of the valley from one period to the next, as a share of it, below which it is periodic."""


@dataclass(frozen=True)
class RectifierSupply:
    """
    One supply at one mains voltage.

    Args:
        peak: Of the open secondary. [V]
        hertz: Mains frequency. [Hz]
        resistance: Winding, wiring and diode together. [ohm]
        drop: Of all diodes in the path: two in a bridge. [V]
        capacitance: Of the reservoir. [F]
        current: That the load draws. [A]
        full_wave: Both half periods charge the reservoir.
        esr: Equivalent series resistance of the reservoir, which grows as it dries out. [ohm]
    """

    peak: float
    hertz: float
    resistance: float
    drop: float
    capacitance: float
    current: float
    full_wave: bool = True
    esr: float = 0.0


@dataclass(frozen=True)
class Ripple:
    """
    What one supply settles to, or does at switch-on.

    Args:
        top: Highest voltage of the reservoir. [V]
        valley: Lowest. [V]
        mean: Over a period. [V]
        ripple_current: Root mean square in the reservoir. [A]
        source_current: Root mean square in the secondary. [A]
        peak_current: In a diode, once settled. [A]
    """

    top: float
    valley: float
    mean: float
    ripple_current: float
    source_current: float
    peak_current: float


@dataclass(frozen=True)
class Inrush:
    """
    Switch-on at the mains' peak with an empty reservoir.

    Args:
        peak: Highest current. [A]
        bound: Peak voltage over resistance, which it cannot exceed. [A]
        i2t: Integral of current squared until the reservoir is charged. [A² s]
        i2t_bound: The same of a capacitor charged from a steady peak, C V²/(2R). [A² s]
    """

    peak: float
    bound: float
    i2t: float
    i2t_bound: float


def ripple_bound(supply: RectifierSupply) -> float:
    """
    Ripple by the rule of thumb I/(f C), f being twice the mains for full wave; the truth is less. [V]

    Valid: as an upper bound, since the reservoir discharges for less than a whole period.
    Source: charge balance of a capacitor.

    >>> round(ripple_bound(RectifierSupply(14.1, 50.0, 0.5, 1.4, 2200e-6, 0.5)), 2)
    2.27
    """
    return supply.current / ((2.0 if supply.full_wave else 1.0) * supply.hertz * supply.capacitance)


def settle(supplies: Sequence[RectifierSupply]) -> tuple[Ripple, ...]:
    """
    The periodic state of each supply.

    Raises:
        OutOfRange: A number that is not above zero, or a load that pulls the reservoir to nothing.
    """
    for one in supplies:
        _refuse(one)
    lane = _Lanes(supplies)
    reservoir, source = lane.settled()
    for one, lowest in zip(supplies, reservoir.min(axis=0), strict=True):
        if lowest <= 0:
            raise OutOfRange(
                "Cannot work out the ripple", f"a load of {one.current:g} A that empties a reservoir of "
                f"{one.capacitance * 1e6:g} µF", "a load that leaves some voltage in the valley",
                "Check the load, the reservoir and the transformer.",
            )  # fmt: skip
    inside = source - lane.current
    return tuple(
        Ripple(
            top=float(reservoir[:, n].max()), valley=float(reservoir[:, n].min()), mean=float(reservoir[:, n].mean()),
            ripple_current=sqrt(float((inside[:, n] ** 2).mean())),
            source_current=sqrt(float((source[:, n] ** 2).mean())), peak_current=float(source[:, n].max()),
        )
        for n in range(len(supplies))
    )  # fmt: skip


def one_period(supply: RectifierSupply) -> tuple[Floats, Floats, Floats]:
    """
    The settled supply through one period, for a drawing.

    Returns:
        Times [s], reservoir voltage [V] and source current [A], each of shape (2 STEPS,).
    """
    _refuse(supply)
    lane = _Lanes([supply])
    reservoir, source = lane.settled()
    return np.arange(1, 2 * STEPS + 1) * lane.step, reservoir[:, 0], source[:, 0]


def switch_on(supplies: Sequence[RectifierSupply], halves: int = 40) -> tuple[Inrush, ...]:
    """Each supply switched on at the peak of the mains with its reservoir empty and the load not yet drawing."""
    for one in supplies:
        _refuse(one)
    lane = _Lanes([RectifierSupply(**{**one.__dict__, "current": 0.0}) for one in supplies])
    volts, squared, most = np.zeros(len(supplies)), np.zeros(len(supplies)), np.zeros(len(supplies))
    for _ in range(halves // 2):
        volts, (_, source) = lane.period(volts, start=0.5)
        squared += (source**2).sum(axis=0) * lane.step
        most = np.maximum(most, source.max(axis=0))
    height = lane.peak - lane.drop
    path = lane.resistance + lane.esr
    bound, charge = height / path, lane.capacitance * height**2 / (2.0 * path)
    return tuple(Inrush(*map(float, row)) for row in zip(most, bound, squared, charge, strict=True))


class _Lanes:
    """Supplies side by side; one mains period at a time."""

    def __init__(self, supplies: Sequence[RectifierSupply]) -> None:
        def column(name: str) -> Floats:
            return np.array([getattr(one, name) for one in supplies], dtype=float)

        self.peak, self.drop, self.current = column("peak"), column("drop"), column("current")
        self.resistance, self.capacitance, self.esr = column("resistance"), column("capacitance"), column("esr")
        self.full = np.array([one.full_wave for one in supplies])
        self.step = 1.0 / (2.0 * STEPS * column("hertz"))
        self.decay = np.exp(-self.step / ((self.resistance + self.esr) * self.capacitance))

    def settled(self) -> tuple[Floats, Floats]:
        """The last of as many periods as it takes until the valley stays; as `period` records one."""
        volts = before = np.maximum(self.peak - self.drop, 0.0)
        for _ in range(MOST_HALVES // 2):
            volts, record = self.period(volts)
            valley = record[0].min(axis=0)
            if np.all(np.abs(valley - before) <= SETTLED * np.maximum(np.abs(valley), 1e-3)):
                break
            before = valley
        return record

    def period(self, volts: Floats, start: float = 0.0) -> tuple[Floats, tuple[Floats, Floats]]:
        """
        One period from a phase on, in units of pi: the voltage at its end, and those of the reservoir and the source's
        currents at every step, shape (2 STEPS, supplies).
        """
        reservoir, source = np.empty((2 * STEPS, len(volts))), np.empty((2 * STEPS, len(volts)))
        for number in range(2 * STEPS):
            sine = np.sin((start + (number + 0.5) / STEPS) * pi)
            drive = self.peak * np.where(self.full, abs(sine), max(sine, 0.0)) - self.drop
            conducts = drive > volts - self.esr * self.current  # what stands at the terminals meanwhile
            rest = drive - self.current * self.resistance
            charged = rest + (volts - rest) * self.decay
            new = np.where(conducts, charged, volts - self.current * self.step / self.capacitance)
            driven = drive - 0.5 * (volts + new) + self.esr * self.current
            source[number] = np.where(conducts, driven, 0.0).clip(0.0) / (self.resistance + self.esr)
            reservoir[number] = new + self.esr * (source[number] - self.current)
            volts = new
        return volts, (reservoir, source)


def _refuse(one: RectifierSupply) -> None:
    for name, unit in (("peak", "V"), ("hertz", "Hz"), ("resistance", "ohm"), ("capacitance", "F")):
        value = getattr(one, name)
        if not (np.isfinite(value) and value > 0):
            raise OutOfRange("Cannot work out the ripple", f"{name} = {value:g} {unit}", f"a number above 0 {unit}",
                             "Correct it.")  # fmt: skip
    if not all(np.isfinite(value) and value >= 0 for value in (one.current, one.drop, one.esr)):
        raise OutOfRange("Cannot work out the ripple",
                         f"current {one.current:g} A, drop {one.drop:g} V, ESR {one.esr:g} ohm",
                         "numbers of 0 or more", "Correct them.")  # fmt: skip
