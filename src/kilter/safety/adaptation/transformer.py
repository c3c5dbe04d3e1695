"""A step-down transformer for an object made for another mains, and what its frequency does to the object's own."""

from __future__ import annotations

from dataclasses import dataclass

from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table
from kilter.safety.adaptation.design import Design, Figure, Fitted, plain
from kilter.safety.adaptation.routes import routes

DOING = "Cannot choose the transformer"
MAINS_CAUTION = (
    "The mains side is for people trained for it, under local rules. A transformer of the autotransformer kind does "
    "not isolate: its output may stand at mains potential."
)


@dataclass(frozen=True)
class OtherMains:
    """
    An object and the mains that it is to work from.

    Args:
        plate: Voltage on the object's plate. [V rms]
        mains: At the place. [V rms]
        va: What the plate says it draws. [VA]
        hertz: At the place. [Hz]
        plate_hertz: All frequencies that the plate names; empty where nobody knows. [Hz]
    """

    plate: float
    mains: float
    va: float
    hertz: float
    plate_hertz: tuple[float, ...] = ()


def choose_transformer(object_: OtherMains) -> Design:
    """
    Chooses ratio and size.

    Raises:
        OutOfRange: Numbers that cannot be, or more than any such transformer is made for.
    """
    numbers = (object_.plate, object_.mains, object_.va, object_.hertz, *object_.plate_hertz)
    if not min(numbers) > 0:
        raise OutOfRange(DOING, f"{object_.plate:g} V, {object_.mains:g} V, {object_.va:g} VA, {object_.hertz:g} Hz",
                         "numbers above 0", "Read the plate again.")  # fmt: skip
    data = table("adaptation/supply")["transformer"]
    asked = float(data["margin"]) * object_.va
    if asked > data["sizes"][-1]:
        raise OutOfRange(DOING, f"{asked:g} VA with reserve", f"up to {data['sizes'][-1]:g} VA",
                         "This is work for somebody trained for the mains.")  # fmt: skip
    size = next(float(one) for one in data["sizes"] if one >= asked)
    figures = (
        Figure("volts of the mains for one of the plate", plain(object_.mains / object_.plate), "to 1"),
        Figure("size of the transformer", plain(size), "VA", asked, None, data["source"]),
        _flux(object_),
    )
    part = Fitted("T1", f"{size:g} VA, {object_.mains:g} V to {object_.plate:g} V",
                  "isolating, fused on both sides", "brings the mains to what the plate says")  # fmt: skip
    return Design("transformer for another mains", routes("supply"), (part,), figures, _cautions(object_))


def _flux(object_: OtherMains) -> Figure:
    """Volts per hertz against the plate: a transformer made for 60 Hz alone saturates at 50 Hz."""
    lowest = min(object_.plate_hertz, default=float("nan"))
    return Figure("flux in the object's own transformer", plain(100 * lowest / object_.hertz), "%", None,
                  100 * float(table("adaptation/supply")["transformer"]["flux_most"]),
                  "flux goes with volts by hertz: Faraday's law")  # fmt: skip


def _cautions(object_: OtherMains) -> tuple[str, ...]:
    found = [MAINS_CAUTION, "An unloaded transformer gives more than its rated voltage, and follows the mains: measure "
             "before the object is joined."]  # fmt: skip
    if not object_.plate_hertz:
        found.append("No frequency was read from the plate: one made for 60 Hz alone overheats at 50 Hz. Find out "
                     "first.")  # fmt: skip
    elif object_.hertz not in object_.plate_hertz:
        nearest = min(object_.plate_hertz, key=lambda one: abs(one - object_.hertz))
        found.append(f"No transformer changes the frequency: clocks and motors that follow the mains run at "
                     f"{100 * object_.hertz / nearest:.0f} % of their speed.")  # fmt: skip
    if object_.mains < object_.plate:
        found.append("The plate asks for more than the mains here: this is a step-up transformer, and what it feeds is "
                     "a higher voltage than people here expect at a socket. Label it.")  # fmt: skip
    return tuple(found)
