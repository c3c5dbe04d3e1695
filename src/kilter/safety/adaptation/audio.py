"""A pad and a coupling capacitor from a loudspeaker or stage output to a line input, and what a hum loop asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log10, pi

import numpy as np

from kilter.circuit.board import Element
from kilter.measure.e_series import at_least, nearest
from kilter.measure.errors import OutOfRange
from kilter.measure.measured import engineering
from kilter.measure.tables import table
from kilter.safety.adaptation.design import Design, Figure, Fitted
from kilter.safety.adaptation.evaluate import solve, spread
from kilter.safety.adaptation.ratings import rated_volts, shock_cautions
from kilter.safety.adaptation.routes import routes

DOING = "Cannot design the audio coupling"
FREQUENCIES = tuple(float(one) for one in np.geomspace(1, 100e3, 51))


@dataclass(frozen=True)
class AudioSource:
    """
    What the object gives, and what is wanted.

    Args:
        volts: Of the source without load. [V rms]
        ohm: Its inner resistance. [ohm]
        wanted: At the input. [V rms]
        rest: Largest resting voltage at the point. [V]
        load: Resistance of the input. [ohm]
        corner: Lowest frequency, at most 3 dB down. [Hz]
        earthed: Whether both object and input are joined to earth elsewhere; None where nobody knows.
    """

    volts: float
    ohm: float
    wanted: float
    rest: float = 0.0
    load: float = 10e3
    corner: float = 20.0
    earthed: bool | None = None


def design_audio(source: AudioSource) -> Design:
    """
    Designs it.

    Raises:
        OutOfRange: The source is too small for the level, or numbers that cannot be.
    """
    if not (min(source.volts, source.wanted, source.load, source.corner) > 0 and source.ohm >= 0):
        raise OutOfRange(DOING, f"{source.volts:g} V behind {source.ohm:g} Ω, {source.wanted:g} V wanted at "
                         f"{source.load:g} Ω, {source.corner:g} Hz", "numbers above 0", "Correct them.")  # fmt: skip
    values = _values(source)
    parts = _elements(source, values)
    circuit = solve(parts)
    middle, most = _limit("middle_hz"), 10 ** (_limit("level_db") / 20)
    level = circuit.gain("out", middle) * source.volts
    lowest = circuit.gain("out", source.corner) / circuit.gain("out", middle)
    figures = (
        Figure("level at the input", spread(level), "V", source.wanted / most, source.wanted * most, "circuit engine"),
        Figure(f"response at {source.corner:g} Hz against {middle:g} Hz", spread(20 * np.log10(lowest)), "dB",
               -10 * log10(2), None, "circuit engine; half the power at the corner"),
    )  # fmt: skip
    rated = rated_volts(max(abs(source.rest), _limit("least_rest")))
    fitted = [Fitted("C1", engineering(values["C1"], "F"), f"{rated:g} V, film if it fits", "keeps the resting voltage "
                     "away; plus leg, if it has one, to the more positive side")]  # fmt: skip
    if "R1" in values:
        bears = f"{_watts(source, values)}, {100 * _limit('tolerance'):g} %"
        fitted += [Fitted("R1", engineering(values["R1"], "ohm"), bears, "pad, in series"),
                   Fitted("R2", engineering(values["R2"], "ohm"), bears, "pad, across the input")]  # fmt: skip
    return Design("audio coupling", routes("audio"), tuple(fitted), figures, _cautions(source), parts,
                  circuit.response("out", FREQUENCIES))  # fmt: skip


def _limit(key: str) -> float:
    return float(table("adaptation/audio")["limits"][key])


def _watts(source: AudioSource, values: Mapping[str, float]) -> str:
    """All that the source can put into the pad, with reserve."""
    data = table("adaptation/ratings")["resistor"]
    whole = source.volts**2 / (source.ohm + values["R1"] + values["R2"])
    return engineering(max(data["above"] * whole, data["least"]), "W", 2)


def _values(source: AudioSource) -> dict[str, float]:
    """
    The pad: R2 across the input small against it, R1 by the divider; then the capacitor, rounded up.

    C = 1 / (2 pi f R), with R the source and all that the capacitor works into, at the low end of tolerances.
    """
    whole, most = source.volts * source.load / (source.load + source.ohm), 10 ** (_limit("level_db") / 20)
    if whole < source.wanted / most:
        raise OutOfRange(DOING, f"{whole:.3g} V at the input without any pad", f"{source.wanted / most:.3g} V or more",
                         "A passive pad cannot raise it: take an input of a lower level, or an amplifier.")  # fmt: skip
    found: dict[str, float] = {}
    into = source.load
    if whole > source.wanted * most:
        shunt = nearest(min(_limit("shunt"), source.load / 10))
        both = shunt * source.load / (shunt + source.load)
        series = nearest(max(both * (source.volts / source.wanted - 1) - source.ohm, 1.0))
        found, into = {"R1": series, "R2": shunt}, series + both
    least = (source.ohm + into) * (1 - _limit("tolerance")) * (1 - _limit("capacitor_tolerance"))
    return {**found, "C1": at_least(_limit("corner_share") / (2 * pi * source.corner * least), "E6")}


def _elements(source: AudioSource, values: Mapping[str, float]) -> tuple[Element, ...]:
    tolerance, pad = _limit("tolerance"), "R1" in values
    found = [
        Element("VIN", "V", ("in", "0"), source.rest, ac=1.0, tolerance=0.0),
        Element("RSOURCE", "R", ("in", "s"), max(source.ohm, 1e-3), tolerance=0.0),
        Element("C1", "C", ("s", "p" if pad else "out"), values["C1"], tolerance=_limit("capacitor_tolerance")),
        Element("RLOAD", "R", ("out", "0"), source.load, tolerance=tolerance),
    ]
    if pad:
        found.append(Element("R1", "R", ("p", "out"), values["R1"], tolerance=tolerance))
        found.append(Element("R2", "R", ("out", "0"), values["R2"], tolerance=tolerance))
    return tuple(found)


def _cautions(source: AudioSource) -> tuple[str, ...]:
    found = [
        "Measure the resting voltage at both tags of a loudspeaker before anything is joined to it: a bridge output "
        "must not be earthed at either.",
        "An output stage with a transformer must not run without its loudspeaker, or a resistor in its place.",
        "Turn the volume down before the lead is plugged or pulled.",
        *shock_cautions(abs(source.rest)),
    ]
    if source.earthed is not False:
        found.append(
            "Two earths make a loop that hums: an audio transformer (10 kΩ to 10 kΩ, about 1:1) in the lead breaks it. "
            "The protective earth of an appliance is never taken off to cure hum."
        )
    if source.earthed is None:
        found.append("Whether object and input are both earthed was not said: find out before they are joined, and "
                     "never join to a chassis that may stand at the mains.")  # fmt: skip
    decibels = 20 * log10(source.wanted / _limit("dbu_volts"))
    found.append(f"The level is {decibels:+.1f} dBu; what the input bears at most stands in its own papers.")
    return tuple(found)
