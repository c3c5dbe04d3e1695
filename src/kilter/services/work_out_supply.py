"""Work a mains supply out: ripple and valley over the mains, regulator heat, inrush and fuse, stored charge."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

from kilter.measure.tables import table
from kilter.records.power import Mains
from kilter.safety.supply.esr import core_heat, suspicious_esr
from kilter.safety.supply.heat import dissipation, junction, wanted_resistance
from kilter.safety.supply.rectifier import Inrush, RectifierSupply, Ripple, ripple_bound, settle, switch_on
from kilter.safety.supply.stored import discharge_seconds, energy
from kilter.safety.supply.surge import share_allowed

CAUTIONS = (
    "These are figures of a model: nothing here says that the supply or the object is safe. Measure before you touch.",
    "Work on the mains side is for people trained for it, under the rules of your house and country.",
    "Before anything is touched, measure the reservoir with a meter, and again after a discharge: charge comes back.",
)
WITHIN, BEYOND, OPEN = "within", "beyond", "not known"


@dataclass(frozen=True)
class SupplyDesign:
    """
    A supply as it stands in the object; None is not known.

    Args:
        secondary: Rated voltage of the winding, root mean square at rated current. [V]
        current_rated: Of the winding. [A]
        regulation: Rise of its voltage without load, as a share.
        resistance: Added to the winding's own: wiring, fuse. [ohm]
        rated_mains: For which the transformer is made. [V]
        full_wave: Bridge or centre tap.
        drop: Of the diodes in the path. [V]
        farads: Reservoir. [F]
        farads_low: The same at the bottom of its tolerance and age. [F]
        reservoir_volts: Rating of the reservoir. [V]
        bleeder: Resistance that discharges it, None where there is none. [ohm]
        load: Current. [A]
        output: Of the regulator, None where there is none. [V]
        dropout: That the regulator needs above its output. [V]
        thermal_resistance: Junction to air as mounted. [K/W]
        ambient: Air inside the case. [degC]
        junction_most: [degC]
        fuse: Its rating. [A]
        fuse_melting: Its melting I²t. [A² s]
        switch_ons: Expected over the years.
        esr: Of the reservoir as measured, None where nobody did. [ohm]
        mains: At the place of use.
    """

    secondary: float
    current_rated: float
    regulation: float
    rated_mains: float
    farads: float
    load: float
    mains: Mains
    resistance: float = 0.0
    full_wave: bool = True
    drop: float = 1.6
    farads_low: float | None = None
    reservoir_volts: float | None = None
    bleeder: float | None = None
    output: float | None = None
    dropout: float | None = None
    thermal_resistance: float | None = None
    ambient: float = 40.0
    junction_most: float = 125.0
    fuse: float | None = None
    fuse_melting: float | None = None
    switch_ons: float = 10_000.0
    esr: float | None = None


@dataclass(frozen=True)
class Figure:
    """
    One figure with what it is held against.

    Args:
        key: Such as 'valley'.
        words: What it is.
        value: In `unit`.
        bound: By the rule of thumb, where the truth comes from steps through time; None where there is one figure.
        limit: What it may be, None where nothing limits it or the limit is not known.
        verdict: 'within', 'beyond' or 'not known'; '' where it is for information.
    """

    key: str
    words: str
    value: float
    unit: str
    bound: float | None = None
    limit: float | None = None
    verdict: str = ""


@dataclass(frozen=True)
class SupplyReport:
    """Figures at the worst of the mains range, and the supplies behind them at its low, nominal and high end."""

    figures: tuple[Figure, ...]
    supplies: tuple[RectifierSupply, ...]
    ripples: tuple[Ripple, ...]


def work_out(design: SupplyDesign) -> SupplyReport:
    """
    All figures of a supply.

    Raises:
        OutOfRange: A number that cannot be, or a load that empties the reservoir.
    """
    low, nominal, high = supplies = _over_mains(design)
    ripples = settle(supplies)
    inrush = switch_on([high])[0]
    light = high.peak - high.drop
    figures = [
        *_ripple(design, low, ripples), *_regulator(design, ripples[2]), *_stress(design, ripples, light),
        *_surge(design, inrush), *_stored(design, light),
    ]  # fmt: skip
    return SupplyReport(tuple(figures), (low, nominal, high), ripples)


def _over_mains(design: SupplyDesign) -> tuple[RectifierSupply, RectifierSupply, RectifierSupply]:
    """At the lowest mains with an old reservoir, at nominal, and at the highest."""
    winding = design.regulation * design.secondary / design.current_rated
    mains, here = design.mains, (design.mains.volts or design.rated_mains) / design.rated_mains
    nominal = RectifierSupply(
        peak=sqrt(2.0) * design.secondary * (1.0 + design.regulation) * here, hertz=mains.hertz or 50.0,
        resistance=winding + design.resistance, drop=design.drop, capacitance=design.farads, current=design.load,
        full_wave=design.full_wave, esr=design.esr or 0.0,
    )  # fmt: skip
    old = design.farads if design.farads_low is None else design.farads_low
    return (
        replace(nominal, peak=nominal.peak * mains.low, capacitance=old),
        nominal,
        replace(nominal, peak=nominal.peak * mains.high),
    )


def _judged(value: float, limit: float | None, *, most: bool = True) -> str:
    if limit is None:
        return OPEN
    return WITHIN if (value <= limit if most else value >= limit) else BEYOND


def _ripple(design: SupplyDesign, low: RectifierSupply, ripples: tuple[Ripple, ...]) -> list[Figure]:
    least, most = ripples[0], ripples[2]
    found = [
        Figure("ripple", "ripple, peak to peak, lowest mains and old reservoir", least.top - least.valley, "V",
               bound=ripple_bound(low)),
        Figure("mean_high", "mean voltage of the reservoir, highest mains", most.mean, "V"),
    ]  # fmt: skip
    needed = None if design.output is None or design.dropout is None else design.output + design.dropout
    verdict = "" if design.output is None else _judged(least.valley, needed, most=False)
    valley = Figure("valley", "valley of the ripple, lowest mains; the regulator needs at least the limit",
                    least.valley, "V", bound=least.top - ripple_bound(low), limit=needed, verdict=verdict)  # fmt: skip
    return [found[0], valley, found[1]]


def _regulator(design: SupplyDesign, most: Ripple) -> list[Figure]:
    if design.output is None:
        return []
    watts = dissipation(most.mean, design.output, design.load)
    wanted = wanted_resistance(watts, design.ambient, design.junction_most)
    found = [
        Figure("regulator_heat", "heat of the regulator, highest mains", watts, "W"),
        Figure("thermal_wanted", "thermal resistance from junction to air that it wants, at most", wanted, "K/W"),
    ]
    if design.thermal_resistance is None:
        return [*found, Figure("junction", "junction of the regulator: how it is cooled is not known", float("nan"),
                               "degC", limit=design.junction_most, verdict=OPEN)]  # fmt: skip
    hot = junction(watts, design.ambient, design.thermal_resistance)
    return [*found, Figure("junction", "junction of the regulator, highest mains", hot, "degC",
                           limit=design.junction_most, verdict=_judged(hot, design.junction_most))]  # fmt: skip


def _stress(design: SupplyDesign, ripples: tuple[Ripple, ...], light: float) -> list[Figure]:
    most = max(ripples, key=lambda one: one.source_current)
    reverse = 2.0 * light if not design.full_wave else light + design.drop
    return [
        Figure("winding_current", "current of the winding, root mean square", most.source_current, "A",
               limit=design.current_rated, verdict=_judged(most.source_current, design.current_rated)),
        Figure("reservoir_current", "ripple current of the reservoir, root mean square", most.ripple_current, "A"),
        *_wear(design, most.ripple_current),
        Figure("diode_peak", "repetitive peak of a diode's current", most.peak_current, "A"),
        Figure("diode_reverse", "reverse voltage of a diode, no load, highest mains", reverse, "V"),
        Figure("reservoir_volts", "reservoir without load, highest mains", light, "V", limit=design.reservoir_volts,
               verdict=_judged(light, design.reservoir_volts)),
    ]  # fmt: skip


def _wear(design: SupplyDesign, ripple_current: float) -> list[Figure]:
    """What the reservoir's series resistance does to it, and whether a new part would have as much."""
    if design.esr is None:
        return [Figure("esr", "series resistance of the reservoir: nobody measured it; the ripple above takes it for "
                       "nothing", float("nan"), "ohm", verdict=OPEN)]  # fmt: skip
    found = [Figure("core_heat", "heat inside the reservoir", core_heat(ripple_current, design.esr), "W")]
    most = suspicious_esr(design.farads, design.reservoir_volts)
    return [*found, Figure("esr", "series resistance of the reservoir; worn beyond the limit", design.esr, "ohm",
                           limit=most, verdict=_judged(design.esr, most))]  # fmt: skip


def _surge(design: SupplyDesign, inrush: Inrush) -> list[Figure]:
    allowed = None if design.fuse_melting is None else share_allowed(design.switch_ons) * design.fuse_melting
    run = None if design.fuse is None else design.fuse * float(table("safety/supply")["fuse_run"]["value"])
    return [
        Figure("inrush", "peak at switch-on, in the secondary", inrush.peak, "A", bound=inrush.bound),
        Figure("inrush_i2t", "I²t at switch-on; a fuse in the secondary may take the limit", inrush.i2t, "A² s",
               bound=inrush.i2t_bound, limit=allowed, verdict=_judged(inrush.i2t, allowed)),
        Figure("fuse_run", "load beside the share of its rating at which a fuse may run", design.load, "A", limit=run,
               verdict=_judged(design.load, run)),
    ]  # fmt: skip


def _stored(design: SupplyDesign, light: float) -> list[Figure]:
    found = [Figure("stored", "energy in the reservoir, no load, highest mains", energy(design.farads, light), "J")]
    until = float(table("safety/supply")["discharge"]["until"])
    if design.bleeder is None:
        return [*found, Figure("discharge", "time to discharge: no bleeder, so it may stay charged for days",
                               float("nan"), "s", verdict=OPEN)]  # fmt: skip
    seconds = discharge_seconds(design.farads, design.bleeder, light, min(until, light))
    return [*found, Figure("discharge", f"time in which the bleeder brings it to {until:g} V", seconds, "s")]
