"""A DC converter with a filter for its noise, damped so that the filter does not ring."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from kilter.circuit.board import Element
from kilter.measure.e_series import at_least, nearest
from kilter.measure.errors import OutOfRange
from kilter.measure.measured import engineering
from kilter.measure.tables import table
from kilter.safety.adaptation.design import Design, Figure, Fitted, plain
from kilter.safety.adaptation.evaluate import Circuit, solve, spread
from kilter.safety.adaptation.ratings import rated_volts, shock_cautions
from kilter.safety.adaptation.routes import routes
from kilter.safety.adaptation.transformer import MAINS_CAUTION
from kilter.simulate.prediction import Floats

DOING = "Cannot design the filter of the converter"
FREQUENCIES = tuple(float(one) for one in np.geomspace(100, 10e6, 51))
CAUTIONS = (
    "A converter's noise also leaves as radiation and along both wires together: keep leads short and twisted, and "
    "look at sound and picture while it is near.",
    "Some converters jump up when unloaded or overshoot when switched on: measure both before the object is joined.",
    "What a linear supply did when it was shorted, a converter may not do: look at its current limit.",
)


@dataclass(frozen=True)
class Converter:
    """
    A DC converter and what its noise may be.

    Args:
        volts: Output. [V]
        amps: Load. [A]
        noise: Its ripple at the switching frequency, peak to peak, unfiltered. [V]
        hertz: Switching frequency. [Hz]
        wanted: Largest ripple that the object may see, peak to peak. [V]
    """

    volts: float
    amps: float
    noise: float
    hertz: float
    wanted: float


def design_converter(one: Converter) -> Design:
    """
    Designs it; the ripple counts as a square wave, whose fundamental is 4/pi of its swing.

    Raises:
        OutOfRange: Numbers that cannot be.
    """
    if not min(one.volts, one.amps, one.noise, one.hertz, one.wanted) > 0:
        raise OutOfRange(DOING, f"{one.volts:g} V, {one.amps:g} A, {one.noise:g} V at {one.hertz:g} Hz, "
                         f"{one.wanted:g} V", "numbers above 0", "Read the converter's sheet.")  # fmt: skip
    values = _values(one)
    parts = _elements(one, values)
    circuit = solve(parts)
    ripple = 4 / pi * one.noise * circuit.gain("out", one.hertz)
    data = _data()
    figures = (
        Figure("ripple at the object, peak to peak", spread(ripple), "V", None, one.wanted, "circuit engine"),
        Figure("highest gain where the filter may ring", spread(20 * np.log10(_peak(circuit, values))), "dB", None,
               data["peak_db"], "circuit engine, without load"),
        Figure("voltage lost in the coil", plain(one.amps * values["RL1"]), "V", None,
               data["drop_share"] * one.volts, "I R"),
    )  # fmt: skip
    return Design("DC converter with filter", routes("supply"), _fitted(one, values), figures,
                  (*CAUTIONS, *shock_cautions(one.volts), MAINS_CAUTION), parts,
                  circuit.response("out", FREQUENCIES))  # fmt: skip


def _data() -> Mapping[str, float]:
    found: Mapping[str, float] = table("adaptation/supply")["converter"]
    return found


def _values(one: Converter) -> dict[str, float]:
    """
    Coil, capacitor, and the larger capacitor with its resistor that damp them.

    Above its resonance an LC filter leaves 1 / (w^2 L C); a branch of n C behind R = sqrt(L / C) keeps it from ringing.
    """
    data = _data()
    coil, ohm = _coil(one)
    share = min(one.wanted / (4 / pi * one.noise) * data["aim"], 1.0)
    farads = at_least(max(1 / ((2 * pi * one.hertz) ** 2 * coil * share), data["least_farads"]), "E6")
    return {"L1": coil, "RL1": ohm, "C1": farads, "C2": at_least(data["damping_times"] * farads, "E6"),
            "R1": nearest(data["damping"] * sqrt(coil / farads), "E12")}  # fmt: skip


def _coil(one: Converter) -> tuple[float, float]:
    """The largest coil in which little enough voltage is lost; else the smallest made. [H, ohm]"""
    coils = [(float(henry), float(ohm)) for henry, ohm in table("adaptation/supply")["converter"]["coils"]]
    fitting = [coil for coil in coils if coil[1] * one.amps <= _data()["drop_share"] * one.volts]
    return max(fitting, default=min(coils))


def _elements(one: Converter, values: Mapping[str, float]) -> tuple[Element, ...]:
    data = _data()
    wide = data["tolerance"]
    return (
        Element("VIN", "V", ("in", "0"), one.volts, ac=1.0, tolerance=0.0),
        Element("RL1", "R", ("in", "a"), values["RL1"], tolerance=wide),
        Element("L1", "L", ("a", "out"), values["L1"], tolerance=wide),
        Element("C1", "C", ("out", "p"), values["C1"], tolerance=wide),
        Element("RC1", "R", ("p", "0"), data["capacitor_ohm"], tolerance=wide),
        Element("C2", "C", ("out", "d"), values["C2"], tolerance=wide),
        Element("R1", "R", ("d", "0"), values["R1"], tolerance=data["damping_tolerance"]),
        Element("RLOAD", "R", ("out", "0"), data["light_load"] * one.volts / one.amps, tolerance=0.0),
    )


def _peak(circuit: Circuit, values: Mapping[str, float]) -> Floats:
    """Highest gain around the resonances with and without the damping branch, shape (samples,)."""
    low = 1 / (2 * pi * sqrt(values["L1"] * (values["C1"] + values["C2"])))
    high = 1 / (2 * pi * sqrt(values["L1"] * values["C1"]))
    around = np.geomspace(low / 3, high * 3, 81)
    return np.asarray(np.max([circuit.gain("out", float(hertz)) for hertz in around], axis=0))


def _fitted(one: Converter, values: Mapping[str, float]) -> tuple[Fitted, ...]:
    data, rated = _data(), f"{rated_volts(one.volts):g} V"
    return (
        Fitted("PS1", f"{one.volts:g} V, {data['margin'] * one.amps:.2g} A", "", "converter, isolated from the mains"),
        Fitted("L1", engineering(values["L1"], "H"), f"{data['saturation'] * one.amps:.2g} A without saturating",
               "filter coil"),
        Fitted("C1", engineering(values["C1"], "F"), f"{rated}, film or ceramic", "filter capacitor"),
        Fitted("C2", engineering(values["C2"], "F"), rated, "with R1 damps the filter"),
        Fitted("R1", engineering(values["R1"], "ohm", 2), engineering(data["damping_watts"], "W", 2),
               "in series with C2"),
    )  # fmt: skip
