"""A three-pin linear regulator from a DC supply: headroom, heat and heat sink."""

from __future__ import annotations

from dataclasses import dataclass

from kilter.measure.errors import OutOfRange
from kilter.measure.measured import engineering
from kilter.measure.tables import table
from kilter.safety.adaptation.design import Design, Figure, Fitted, plain
from kilter.safety.adaptation.ratings import rated_volts
from kilter.safety.adaptation.routes import routes
from kilter.safety.adaptation.transformer import MAINS_CAUTION
from kilter.safety.supply.heat import dissipation, junction, wanted_resistance

DOING = "Cannot design the regulator"


@dataclass(frozen=True)
class RegulatorWanted:
    """
    What it works from and what it has to give.

    Args:
        low: Lowest input, at the valley of its ripple. [V]
        high: Highest input. [V]
        volts: Output. [V]
        amps: Load. [A]
        ambient: Air at it, None for that of the data file. [degC]
    """

    low: float
    high: float
    volts: float
    amps: float
    ambient: float | None = None


def design_regulator(wanted: RegulatorWanted) -> Design:
    """
    Designs it.

    Raises:
        OutOfRange: Numbers that cannot be, or an input above what such a regulator bears.
    """
    data = table("adaptation/supply")["regulator"]
    low, high, volts, amps = wanted.low, wanted.high, wanted.volts, wanted.amps
    if not (0 < volts < low <= high <= data["most_in"] and 0 < amps <= data["most_amps"]):
        raise OutOfRange(DOING, f"{low:g} to {high:g} V in, {volts:g} V out, {amps:g} A",
                         f"an input above the output and up to {data['most_in']:g} V, up to {data['most_amps']:g} A",
                         "Measure the supply under load.")  # fmt: skip
    ambient = float(data["ambient"]) if wanted.ambient is None else wanted.ambient
    heat = dissipation(high, volts, amps, data["quiescent"])
    bare = junction(heat, ambient, data["bare"])
    figures = [
        Figure("lowest input above the output", plain(low - volts), "V", data["headroom"], None, data["source"]),
        Figure("heat", plain(heat), "W", source="(Vin - Vout) I + Vin Iq at the highest input"),
        Figure("junction without a heat sink", plain(bare), "degC", None, data["junction"], "P Rth + ambient"),
    ]
    parts = [Fitted("U1", f"{volts:g} V, {amps:g} A", f"{high:g} V in", "regulator"),
             Fitted("C1", engineering(data["in_farads"], "F"), f"{rated_volts(high):g} V", "at its input, legs short"),
             Fitted("C2", engineering(data["out_farads"], "F"), f"{rated_volts(volts):g} V",
                    "at its output, legs short")]  # fmt: skip
    if bare > data["junction"]:
        figures[-1:] = _with_sink(heat, ambient)
        sink = figures[-1].value[1]
        parts.append(Fitted("HS1", f"{sink:.1f} K/W or less", "", "heat sink, insulated where the tab is not ground"))
    cautions = (
        "A regulator fails short now and then and then passes its input on: a fuse, and a zener diode or a crowbar at "
        "the output, keep an irreplaceable object from it.",
        "Try it on a resistor in place of the object first, at the highest input and warm.",
        MAINS_CAUTION,
    )
    return Design("linear regulator", routes("supply"), tuple(parts), tuple(figures), cautions)


def _with_sink(heat: float, ambient: float) -> list[Figure]:
    """The heat sink that keeps the junction at its limit; one below a small cooler's is not asked of anybody."""
    data = table("adaptation/supply")["regulator"]
    sink = wanted_resistance(heat, ambient, data["junction"]) - data["case"] - data["insulator"]
    return [Figure("heat sink, at most", plain(sink), "K/W", data["least_sink"], None,
                   "(Tj - Ta) / P, less case and insulator")]  # fmt: skip
