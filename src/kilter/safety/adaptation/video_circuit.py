"""The driver for composite video as a circuit: an emitter follower, with a feedback pair before it where R5 is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from kilter.circuit.board import Element
from kilter.measure.tables import table
from kilter.safety.adaptation.evaluate import Circuit, solve
from kilter.safety.first_power.stress import transistor_amps
from kilter.simulate.circuit.constants import thermal_voltage

NODES = {
    "R1": ("s", "b"), "R2": ("b", "0"), "R3": ("vcc", "b"), "R4": ("vcc", "c"), "R5": ("x", "0"), "R6": ("y", "x"),
    "R7": ("y", "0"), "R8": ("e", "0"), "R9": ("e", "out"), "C1": ("e", "m"),
    "C2": ("y", "c"),
}  # fmt: skip
"""Where each part sits; R9 moves behind C1 where that is fitted."""


@dataclass(frozen=True)
class VideoSource:
    """
    The signal that the object gives, without load, and what is asked of the driver.

    Args:
        low: At the tip of sync. [V]
        high: At white. [V]
        ohm: Its inner resistance. [ohm]
        supply: Of the driver. [V]
        field_hz: Field rate. [Hz]
        coupled: Whether a capacitor keeps the resting voltage from the display.
        tilt: Over one field at most, as share of the level, where coupled.
        bandwidth: Frequency that is to be passed, None for that of the data file. [Hz]
    """

    low: float
    high: float
    ohm: float
    supply: float
    field_hz: float = 50.0
    coupled: bool = False
    tilt: float = 0.1
    bandwidth: float | None = None

    @property
    def span(self) -> float:
        """Sync tip to white. [V]"""
        return self.high - self.low

    @property
    def middle(self) -> float:
        """Halfway between them. [V]"""
        return (self.low + self.high) / 2

    def at(self, share: float) -> float:
        """The voltage at a share of the way from sync tip to white. [V]"""
        return self.low + share * self.span


def video_number(group: str, key: str) -> float:
    """A number of data/adaptation/video.toml."""
    return float(table("adaptation/video")[group][key])


def wanted_hertz(source: VideoSource) -> float:
    """The frequency that is to be passed. [Hz]"""
    return video_number("targets", "bandwidth_hz") if source.bandwidth is None else source.bandwidth


def elements(source: VideoSource, values: Mapping[str, float]) -> tuple[Element, ...]:
    """The driver with its source and the terminated line, at the middle of the signal."""
    data = table("adaptation/video")["part"]
    spread = {"C1": float(data["capacitor_tolerance"]), "C2": float(data["ceramic_tolerance"])}
    nodes = NODES | ({"R9": ("m", "out")} if "C1" in values else {})
    found = [
        Element("VIN", "V", ("in", "0"), source.middle, ac=1.0, tolerance=0.0),
        Element("VCC", "V", ("vcc", "0"), source.supply, tolerance=float(data["supply_tolerance"])),
        Element("RSOURCE", "R", ("in", "s"), max(source.ohm, 1e-3), tolerance=0.0),
        Element("RLOAD", "R", ("out", "0"), video_number("line", "ohm"), tolerance=float(data["tolerance"])),
    ]
    found += [Element(name, name[0], nodes[name], value, tolerance=spread.get(name, float(data["tolerance"])))
              for name, value in values.items()]  # fmt: skip
    return (*found, *_transistors("R5" in values))


def _transistors(pair: bool) -> list[Element]:
    """Q1 follows; Q2 and Q3 are the pair, Q2 taking the difference and Q3 the gain."""
    data = table("adaptation/video")["part"]
    model = {key: float(one) for key, one in data["model"].items()}
    spread = float(data["gain_spread"])
    found = [Element("Q1", "Q", ("vcc", "y" if pair else "b", "e"), 1.0, model=model, tolerance=spread)]
    if pair:
        found.append(Element("Q2", "Q", ("c", "b", "x"), 1.0, model=model, tolerance=spread))
        found.append(Element("Q3", "Q", ("y", "c", "vcc"), 1.0, model={**model, "polarity": -1.0}, tolerance=spread))
    return found


def with_capacitances(circuit: Circuit, parts: Sequence[Element]) -> tuple[Element, ...]:
    """The same with each transistor's capacitances at its operating point: cje + tf gm to the emitter, cjc across."""
    model = table("adaptation/video")["part"]["model"]
    found = list(parts)
    for one in (part for part in parts if part.kind == "Q"):
        at = [circuit.at(node)[:1] for node in one.nodes]
        collector = abs(float(transistor_amps(one.model, one.value, at)[0][0]))
        inner = model["cje"] + model["tf"] * collector / thermal_voltage()
        found.append(Element(f"C{one.name}E", "C", (one.nodes[1], one.nodes[2]), inner, tolerance=0.0))
        found.append(Element(f"C{one.name}C", "C", (one.nodes[1], one.nodes[0]), model["cjc"], tolerance=0.0))
    return tuple(found)


def charged(parts: Sequence[Element]) -> tuple[Element, ...]:
    """The same with a source 'VC1' in place of the output capacitor, for the charge that it holds."""
    return tuple(Element("VC1", "V", one.nodes, 0.0, tolerance=0.0) if one.name == "C1" else one for one in parts)


def driven_backwards(parts: Sequence[Element]) -> tuple[Element, ...]:
    """The same with the signal silent and one ampere of small signal into the output; volts there are ohms."""
    silent = (replace(one, ac=0.0) if one.name == "VIN" else one for one in parts)
    return (*silent, Element("IOUT", "I", ("0", "out"), 0.0, ac=1.0, tolerance=0.0))


def picture_means() -> tuple[float, float]:
    """
    Mean of a line of a black and of a white picture, as share of the way from sync tip to white.

    Source: level and timing of a line of 625-line composite video, data/composite_video.toml.

    >>> [round(one, 3) for one in picture_means()]
    [0.278, 0.846]
    """
    one = table("composite_video")["systems"]["625"]
    line, black = 1 / one["line_rate"], one["sync_level"] / (one["sync_level"] + one["white"])
    dark = black * (line - one["sync"]) / line
    return dark, dark + (1 - black) * (line - one["blanking"]) / line


def gains(source: VideoSource, parts: Sequence[Element], hertz: float) -> list[np.ndarray]:
    """
    Small-signal gain at sync tip and at white, each shape (samples,).

    With a capacitor in the output these are taken for a black and for a white picture, since the charge moves with it.
    """
    if not any(one.name == "C1" for one in parts):
        return [solve(parts, {"VIN": volts}).gain("out", hertz) for volts in (source.low, source.high)]
    found = []
    for share in picture_means():
        resting = solve(parts, {"VIN": source.at(share)})
        held = {"VC1": resting.at("e") - resting.at("m")}
        found += [solve(charged(parts), {"VIN": volts}, held=held).gain("out", hertz)
                  for volts in (source.low, source.high)]  # fmt: skip
    return found
