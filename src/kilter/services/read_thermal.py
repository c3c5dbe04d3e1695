"""Read a temperature picture part by part: rises, what makes them uncertain, and the readings they amount to."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kilter.measure.errors import BadInput, OutOfRange
from kilter.records.reading import Reading
from kilter.services.place_thermal import POSITION, PlacedPicture, Spot
from kilter.thermal.figures import Surface, surfaces
from kilter.thermal.heat import Ambient, Rise, above, ambient_of, rise_of
from kilter.thermal.image import TemperatureImage
from kilter.thermal.inside_part import Span, true_span

QUANTITY, INSTRUMENT = "temperature_rise", "thermal_camera"
RECTANGLE = math.sqrt(3.0)
"""Half-width over standard deviation where all values within are equally likely (JCGM 100:2008, 4.3.7)."""


@dataclass(frozen=True)
class PartRise:
    """
    One part on one picture.

    Args:
        spot: Where it was read.
        rise: As the camera shows it, with the uncertainty of camera, surroundings and place.
        surface: What it shows to the camera.
        true: Least and most temperature that may be behind the surface, for a camera set to an emissivity of 1; None
            where the part was not read or no such temperature exists. [degC]
        uncertainty: Of the rise with that of the emissivity, standard. [K]
    """

    spot: Spot
    rise: Rise
    surface: Surface
    true: Span | None
    uncertainty: float

    @property
    def readable(self) -> bool:
        """Whether it gives a reading."""
        return not self.rise.unread and self.surface.readable

    @property
    def why(self) -> str:
        """Why it gives none, or what to know about it."""
        return self.rise.unread or self.surface.caution


def part_rises(
    image: TemperatureImage, placed: PlacedPicture, said: float | None = None, zero: TemperatureImage | None = None
) -> tuple[dict[str, PartRise], Ambient]:
    """
    Every part that was placed, and the surroundings.

    Args:
        image: With power on.
        placed: The parts on it.
        said: The surroundings as somebody read them; the coolest part of the picture where nobody did. [degC]
        zero: The same view before power.

    Raises:
        BadInput: Surroundings that are none, or a picture before power of another size.
    """
    ambient = ambient_of(image, said)
    pixels = above(image, ambient, zero)
    around = Ambient(ambient.celsius, 0.0, False) if zero is not None else ambient
    found = {ref: _part(spot, rise_of(pixels, spot.outline, around, spot.error), ambient)
             for ref, spot in placed.spots.items()}  # fmt: skip
    return found, ambient


def rises_of(parts: Mapping[str, PartRise]) -> dict[str, Rise]:
    """The rises as the camera shows them, for a comparison of like surfaces."""
    return {ref: one.rise for ref, one in parts.items()}


def thermal_part_readings(parts: Mapping[str, PartRise], refs: Sequence[str], state: str) -> tuple[Reading, ...]:
    """
    Readings of some parts; a part that was placed by its middle alone gives a doubtful one.

    Args:
        parts: As read.
        refs: The parts that are meant, in order.
        state: That the picture was taken in.

    Raises:
        BadInput: A part that was not read.
    """
    unread = [f"{ref} ({parts[ref].why})" if ref in parts else f"{ref} (not placed)" for ref in refs
              if ref not in parts or not parts[ref].readable]  # fmt: skip
    if unread:
        raise BadInput("Cannot turn the picture into readings", f"no temperature of {'; '.join(unread[:6])}",
                       "parts that were read", "Leave them out, or mark them on the picture.")  # fmt: skip
    return tuple(_reading(parts[ref], state) for ref in refs)


def _reading(one: PartRise, state: str) -> Reading:
    ref = one.spot.outline.ref
    return Reading(ref, QUANTITY, one.rise.kelvin, uncertainty=one.uncertainty, state=state, instrument=INSTRUMENT,
                   doubtful=one.spot.how == POSITION, note=one.surface.words)  # fmt: skip


def _part(spot: Spot, rise: Rise, ambient: Ambient) -> PartRise:
    surface = surfaces()[spot.outline.surface]
    true = None if rise.unread else _true(ambient.celsius + rise.kelvin, surface, ambient.celsius)
    return PartRise(spot, rise, surface, true, _uncertainty(rise, true, ambient))


def _true(shown: float, surface: Surface, room: float) -> Span | None:
    try:
        return true_span(shown, surface, room)
    except OutOfRange:
        return None


def _uncertainty(rise: Rise, true: Span | None, ambient: Ambient) -> float:
    """With the farther end of what the emissivity allows as the half-width of a rectangle about what is shown."""
    if true is None:
        return rise.uncertainty
    far = max(abs(end - ambient.celsius - rise.kelvin) for end in true)
    return math.hypot(rise.uncertainty, far / RECTANGLE)
