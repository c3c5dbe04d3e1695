"""A driver for composite video into 75 ohm: what is fitted, and what it does over the tolerance of its parts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from kilter.circuit.board import Element
from kilter.measure.errors import OutOfRange
from kilter.measure.measured import engineering
from kilter.measure.tables import table
from kilter.safety.adaptation.design import Design, Figure, Fitted
from kilter.safety.adaptation.evaluate import Circuit, solve, spread
from kilter.safety.adaptation.ratings import rated_volts
from kilter.safety.adaptation.routes import routes
from kilter.safety.adaptation.video_circuit import (
    VideoSource,
    driven_backwards,
    elements,
    gains,
    video_number,
    wanted_hertz,
    with_capacitances,
)
from kilter.safety.adaptation.video_values import DOING, choose_values

FREQUENCIES = tuple(float(one) for one in np.geomspace(10, 50e6, 41))
HIGHEST = 100e6
"""Where the search for the bandwidth ends. [Hz]"""
USES = {
    "R1": "brings the signal in", "R2": "sets its level", "R3": "lifts it to where the transistors work",
    "R4": "current of Q2", "R5": "gain, with R6", "R6": "gain, with R5", "R7": "load of Q3", "R8": "emitter resistor",
    "R9": "makes up 75 Ω with the follower's own resistance", "C1": "keeps the resting voltage from the display",
    "C2": "keeps the pair from peaking",
    "Q1": "follower", "Q2": "takes signal less feedback", "Q3": "gain",
}  # fmt: skip
CAUTIONS = (
    "Without the 75 Ω in the display the level is twice as high: a quick test of whether they are there.",
    "The signal was described by its levels alone. Look at it with an oscilloscope before and after, and keep both "
    "pictures; colour depends on the object's own timing.",
    "Take the driver's supply where the object can spare it, and add its current to the object's budget.",
)


def design_video(source: VideoSource) -> Design:
    """
    Designs the driver.

    Raises:
        OutOfRange: The source or the supply is too small, or not numbers that can be.
    """
    _check(source)
    values = choose_values(source)
    parts = elements(source, values)
    middle = solve(parts)
    fast = solve(with_capacitances(middle, parts))
    figures = [*_small(source, parts, middle, fast), *_rest(source, values, parts)]
    title = "composite video driver, " + ("feedback pair and follower" if "R5" in values else "follower")
    return Design(title, routes("video"), _fitted(source, parts, values), tuple(figures), CAUTIONS, parts,
                  fast.response("out", FREQUENCIES))  # fmt: skip


def _check(source: VideoSource) -> None:
    allowed = table("adaptation/video")["allowed"]
    for value, key, words, unit in (
        (source.span, "span", "from sync to white", "V"), (source.supply, "supply", "of supply", "V"),
        (source.ohm, "ohm", "inner resistance", "Ω"), (source.tilt, "tilt", "of tilt, as share", ""),
        (source.field_hz, "field_hz", "field rate", "Hz"), (wanted_hertz(source), "bandwidth", "to be passed", "Hz"),
        (source.low, "low", "at the tip of sync", "V"),
    ):  # fmt: skip
        least, most = allowed[key]
        if not least <= value <= most:
            raise OutOfRange(DOING, f"{value:g} {unit} {words}".replace("  ", " "), f"{least:g} to {most:g} {unit}",
                             "Measure the signal without load and look at the options again.")  # fmt: skip


def _small(source: VideoSource, parts: Sequence[Element], middle: Circuit, fast: Circuit) -> list[Figure]:
    """What small signals see."""
    hertz, ohm = video_number("line", "middle_hz"), video_number("line", "ohm")
    wanted, share = video_number("line", "volts"), video_number("targets", "gain_share")
    match = video_number("targets", "match_share")
    several = np.array(gains(source, parts, hertz))
    bend = 100 * (several.max(axis=0) / several.min(axis=0) - 1)
    swept = np.array([fast.gain("out", one) for one in FREQUENCIES])
    peak = 20 * np.log10(swept.max(axis=0) / fast.gain("out", hertz))
    both = solve(driven_backwards(parts)).gain("out", hertz)
    return [
        Figure("level in 75 Ω, sync to white", spread(source.span * middle.gain("out", hertz)), "V",
               wanted * (1 - share), wanted * (1 + share), "1 V into 75 Ω: see data/adaptation/video.toml"),
        Figure("bandwidth, 3 dB", spread(falls_by(fast, video_number("targets", "bandwidth_db"), hertz)), "Hz",
               wanted_hertz(source), None, "circuit engine, with the transistors' capacitances at rest"),
        Figure("highest gain, beside 100 kHz", spread(peak), "dB", None,
               video_number("targets", "peak_db"), "circuit engine"),
        Figure("resistance of the output", spread(1 / (1 / both - 1 / ohm)), "ohm", ohm * (1 - match),
               ohm * (1 + match), "circuit engine; line and source alike, so that nothing comes back"),
        Figure("gain changes, sync to white", spread(bend), "%", None,
               100 * video_number("targets", "bend_share"), "circuit engine at both levels"),
    ]  # fmt: skip


def _rest(source: VideoSource, values: Mapping[str, float], parts: Sequence[Element]) -> list[Figure]:
    """Heat and rest: the worst of sync, middle and white."""
    low, middle, high = (solve(parts, {"VIN": volts}) for volts in (source.low, source.middle, source.high))
    heat = np.max([_heat(one, values) for one in (low, middle, high)], axis=0)
    found = [Figure("heat in Q1", spread(heat), "W", None, video_number("part", "watts"), "(Vc - Ve) I")]
    if "C1" not in values:
        limit = video_number("line", "rest_volts")
        return [*found, Figure("rest at the display, sync tip", spread(low.at("out")), "V", -limit, limit,
                               str(table("adaptation/video")["line"]["rest_source"]))]  # fmt: skip
    loop = video_number("line", "ohm") + values["R9"]
    wide = video_number("part", "capacitor_tolerance")
    farads = values["C1"] * np.array([1.0, 1 - wide, 1 + wide])
    tilt = 100 * (1 - np.exp(-1 / source.field_hz / (loop * farads)))
    return [*found, Figure("tilt over one field", spread(tilt), "%", None, 100 * source.tilt,
                           "1 - exp(-T / RC), R the line and its source")]  # fmt: skip


def _heat(circuit: Circuit, values: Mapping[str, float]) -> np.ndarray:
    emitter = circuit.at("e")
    amps = emitter / values["R8"]
    if "C1" not in values:
        amps = amps + circuit.at("out") / video_number("line", "ohm")
    return (circuit.at("vcc") - emitter) * amps


def falls_by(circuit: Circuit, decibels: float, from_hertz: float) -> np.ndarray:
    """Frequency at which the gain has fallen by so much, shape (samples,); the end of the search where it has not."""
    frequencies = np.geomspace(from_hertz, HIGHEST, 60)
    gain = np.array([20 * np.log10(circuit.gain("out", float(hertz))) for hertz in frequencies])
    lost = gain - gain[0] + decibels
    found = []
    for column in lost.T:
        below = np.flatnonzero(column < 0)
        place = int(below[0]) if below.size else 0
        found.append(HIGHEST if not place else frequencies[place - 1] * (frequencies[place] / frequencies[place - 1])
                     ** (column[place - 1] / (column[place - 1] - column[place])))  # fmt: skip
    return np.array(found)


def _fitted(source: VideoSource, parts: Sequence[Element], values: Mapping[str, float]) -> tuple[Fitted, ...]:
    levels = [solve(parts, {"VIN": volts}, samples=1) for volts in (source.low, source.high)]
    units = {"C": "F", "R": "ohm"}
    found = [Fitted(name, engineering(value, units[name[0]]), _bears(source, name, levels), USES[name])
             for name, value in values.items()]  # fmt: skip
    kind = table("adaptation/video")["part"]
    return (*found, *(
        Fitted(one.name, "PNP" if one.model.get("polarity", 1) < 0 else "NPN",
               f"{kind['volts_times'] * source.supply:.0f} V; {kind['words']}", USES[one.name])
        for one in parts if one.kind == "Q"
    ))  # fmt: skip


def _bears(source: VideoSource, name: str, levels: Sequence[Circuit]) -> str:
    if name == "C1":
        return f"{rated_volts(source.supply):g} V, plus leg at the emitter"
    if name == "C2":
        return f"{rated_volts(source.supply):g} V, ceramic of the stable class (C0G)"
    data, one = table("adaptation/ratings")["resistor"], levels[0].board.elements[name]
    watts = max(float((at.at(one.nodes[0]) - at.at(one.nodes[1]))[0] ** 2) / one.value for at in levels)
    return f"{engineering(max(data['above'] * watts, data['least']), 'W', 2)}, {100 * (one.tolerance or 0):g} %"
