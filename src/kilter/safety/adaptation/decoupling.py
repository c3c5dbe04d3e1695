"""Decoupling for a line of noise on a rail: a small series resistor and the capacitor that suits the frequency."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi, sqrt

import numpy as np

from kilter.circuit.board import Element
from kilter.measure.e_series import at_least, at_most, nearest
from kilter.measure.errors import OutOfRange
from kilter.measure.measured import engineering
from kilter.measure.tables import table
from kilter.safety.adaptation.design import Design, Figure, Fitted, plain
from kilter.safety.adaptation.evaluate import solve, spread
from kilter.safety.adaptation.ratings import rated_volts, shock_cautions
from kilter.safety.adaptation.routes import routes

DOING = "Cannot design the decoupling"
FREQUENCIES = tuple(float(one) for one in np.geomspace(10, 30e6, 61))


@dataclass(frozen=True)
class NoiseLine:
    """
    One line of a spectrum on a rail.

    Args:
        hertz: Its frequency. [Hz]
        volts: Its peak amplitude. [V]
        wanted: Peak amplitude that may be left. [V]
        rail: Voltage of the rail. [V]
        amps: Current that the quiet part draws. [A]
        source_ohm: Resistance of the rail as it is, None where nobody knows; then only the new resistor counts. [ohm]
    """

    hertz: float
    volts: float
    wanted: float
    rail: float
    amps: float
    source_ohm: float | None = None


@dataclass(frozen=True)
class _Choice:
    kind: str
    farads: float
    left: float  # share that is left at the line


def design_decoupling(line: NoiseLine) -> Design:
    """
    Designs it.

    Raises:
        OutOfRange: Numbers that cannot be.
    """
    if not (min(line.hertz, line.volts, line.wanted, line.rail, line.amps) > 0 and (line.source_ohm or 0) >= 0):
        raise OutOfRange(DOING, f"{line.volts:g} V at {line.hertz:g} Hz, {line.wanted:g} V wanted, {line.rail:g} V, "
                         f"{line.amps:g} A", "numbers above 0", "Read the spectrum again.")  # fmt: skip
    if line.volts <= line.wanted:
        raise OutOfRange(DOING, f"{line.volts:g} V of noise where {line.wanted:g} V may be left", "more noise than is "
                         "wanted", "Leave the rail as it is.")  # fmt: skip
    rated_volts(line.rail)  # refuses a rail that no capacitor in the table stands
    limits = table("adaptation/decoupling")["series"]
    series, choice = _series_and_shunt(line)
    parts = _elements(line, series, choice)
    circuit = solve(parts)
    left = line.volts * circuit.gain("out", line.hertz)
    figures = (
        Figure(f"noise left at {engineering(line.hertz, 'Hz')}", spread(left), "V", None, line.wanted,
               "circuit engine, over tolerance"),
        Figure("voltage lost in the resistor", plain(series * line.amps), "V", None,
               limits["drop_most"] * line.rail, "I R"),
    )  # fmt: skip
    watts = table("adaptation/ratings")["resistor"]
    heat = max(watts["least"], watts["above"] * series * line.amps**2)
    rated = rated_volts(_times(choice.kind) * line.rail)
    fitted = (
        Fitted("R1", engineering(series, "ohm", 2), engineering(heat, "W", 2), "in series"),
        Fitted("C1", f"{engineering(choice.farads, 'F')} {choice.kind}", f"{rated:g} V",
               "at the quiet part, legs as short as can be"),
    )  # fmt: skip
    return Design("decoupling", routes("decoupling"), fitted, figures, _cautions(line), parts,
                  circuit.response("out", FREQUENCIES))  # fmt: skip


def _series_and_shunt(line: NoiseLine) -> tuple[float, _Choice]:
    """With the voltage that is meant to be lost in the resistor; only where that is too little, with all that may."""
    limits = table("adaptation/decoupling")["series"]
    least, meant, most = limits["least_ohm"], line.rail / line.amps * limits["drop_share"], line.rail / line.amps
    series = nearest(max(meant, least), "E12")
    choice = _choose(line, series + (line.source_ohm or 0.0))
    if choice.left * line.volts > _aim() * line.wanted:
        series = max(series, at_most(max(most * limits["drop_most"], least), "E12"))
        choice = _choose(line, series + (line.source_ohm or 0.0))
    return series, choice


def _aim() -> float:
    return float(table("adaptation/decoupling")["capacitor"]["aim"])


def _times(kind: str) -> float:
    """A tantalum bead gets twice the rail."""
    return float(table("adaptation/decoupling")["capacitor"]["tantalum_times"]) if kind == "tantalum" else 1.0


def _cautions(line: NoiseLine) -> tuple[str, ...]:
    found = [
        "Noise of the mains or its double is more often a worn reservoir capacitor than missing decoupling: look there "
        "first ('kilter supply', 'kilter diagnose').",
        "The series resistance and the leads of the capacitor were assumed; look at the rail again afterwards.",
        *shock_cautions(line.rail),
    ]
    if line.source_ohm is None:
        found.append("The resistance of the rail was not given and counts as nothing: the noise left is then an upper "
                     "bound.")  # fmt: skip
    return tuple(found)


def _choose(line: NoiseLine, ohm: float) -> _Choice:
    """The smallest capacitor of any kind that does it over tolerance; else the one that leaves least."""
    data = table("adaptation/decoupling")["capacitor"]
    found: list[_Choice] = []
    above = table("adaptation/ratings")["capacitor"]["above"] * line.rail
    for kind, inner in data["ohm"].items():
        if above * _times(kind) > data["volts_most"][kind]:
            continue
        least, most = (float(one) for one in data["farads"][kind])
        farads = _farads(line, ohm, float(inner))
        farads = min(max(at_least(farads, "E6"), least), most) if farads < inf else most
        found.append(_Choice(kind, farads, _left(line.hertz, ohm, float(inner), farads)))
    enough = [one for one in found if one.left * line.volts <= _aim() * line.wanted]
    return min(enough, key=lambda one: one.farads) if enough else min(found, key=lambda one: one.left)


def _farads(line: NoiseLine, ohm: float, inner: float) -> float:
    """
    The capacitance that leaves less than is wanted; endless where its resistance forbids it. [F]

    |r + jx| / |R + r + jx| = k, so x^2 = (k^2 (R + r)^2 - r^2) / (1 - k^2), and x = 1 / (w C) - w L below resonance.
    """
    data = table("adaptation/decoupling")["capacitor"]
    share = _aim() * line.wanted / line.volts
    square = (share**2 * (ohm + inner) ** 2 - inner**2) / (1 - share**2)
    if square <= 0:
        return inf
    omega = 2 * pi * line.hertz
    return float(1 / (omega * (sqrt(square) + omega * data["lead_henry"])))


def _left(hertz: float, ohm: float, inner: float, farads: float) -> float:
    omega = 2 * pi * hertz
    reactance = omega * float(table("adaptation/decoupling")["capacitor"]["lead_henry"]) - 1 / (omega * farads)
    return float(np.hypot(inner, reactance) / np.hypot(ohm + inner, reactance))


def _elements(line: NoiseLine, series: float, choice: _Choice) -> tuple[Element, ...]:
    data = table("adaptation/decoupling")
    known = [Element("RSOURCE", "R", ("in", "a"), line.source_ohm, tolerance=0.0)] if line.source_ohm else []
    return (
        Element("VIN", "V", ("in", "0"), line.rail, ac=1.0, tolerance=0.0),
        *known,
        Element("R1", "R", ("a" if known else "in", "out"), series, tolerance=float(data["series"]["tolerance"])),
        Element("C1", "C", ("out", "p"), choice.farads, tolerance=float(data["capacitor"]["tolerance"])),
        Element("L1", "L", ("p", "q"), float(data["capacitor"]["lead_henry"]), tolerance=0.0),
        Element("RC1", "R", ("q", "0"), float(data["capacitor"]["ohm"][choice.kind]),
                tolerance=float(data["capacitor"]["ohm_tolerance"])),
        Element("RLOAD", "R", ("out", "0"), line.rail / line.amps, tolerance=0.0),
    )  # fmt: skip
