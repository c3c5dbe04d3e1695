"""Compare the temperature picture of an object with those of known-good boards, part by part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput
from kilter.measure.student import coverage_factor
from kilter.measure.uncertainty import effective_dof
from kilter.records.reading import Reading
from kilter.simulate.reference.spread import next_board
from kilter.thermal.figures import number, surfaces
from kilter.thermal.heat import Ambient, Rate, Rise, above, ambient_of, rise_of, rise_rate
from kilter.thermal.image import TemperatureImage
from kilter.thermal.outlines import Outline
from kilter.thermal.register import Registration, register, register_by_corners
from kilter.thermal.resample import warped

Floats = NDArray[np.float64]

HOTTER, COLDER, ALIKE, UNREAD = "hotter", "colder", "as known-good", "not read"
CONFIDENCE = 0.95


@dataclass(frozen=True)
class View:
    """
    One board as the camera saw it.

    Args:
        image: With power on.
        ambient: Its surroundings as somebody read them, else None. [degC]
        zero: The same view before power, or None.
        corners: Four corners of the board set by hand, for where registration fails; in the same order on all boards.
    """

    image: TemperatureImage
    ambient: float | None = None
    zero: TemperatureImage | None = None
    corners: ArrayLike | None = None


@dataclass(frozen=True)
class PartHeat:
    """
    One part on the object and on the known-good boards.

    Args:
        ref: Of the part.
        rise: On the object.
        good: Rise on each known-good board that shows it. [K]
        good_mean: Of these, NaN for none. [K]
        difference: Object less known-good. [K]
        uncertainty: Standard, of the difference, with the spread over healthy boards in it. [K]
        ratio: Difference over the half-width of its 95 % interval; from 1 on, either way, the part is marked.
        verdict: 'hotter', 'colder', 'as known-good' or 'not read'.
        caution: What to know about it.
    """

    ref: str
    rise: Rise
    good: tuple[float, ...]
    good_mean: float
    difference: float
    uncertainty: float
    ratio: float
    verdict: str
    caution: str


@dataclass(frozen=True)
class ThermalComparison:
    """
    Everything that the pictures tell.

    Args:
        parts: In the order of the outlines.
        registration: From the first known-good picture to the object's.
        good_registrations: From the first known-good picture to each further one.
        ambient: Of the object's picture.
        gain: Middle ratio of rises, object over known-good; None where too few parts are warm.
        difference: Map of the object's rises less the first known-good board's, on the latter's picture; NaN where the
            object's picture does not show the board. [K], shape (h, w)
        good_rises: Rise on each known-good board by part. [K]
        notes: What was assumed.
    """

    parts: tuple[PartHeat, ...]
    registration: Registration
    good_registrations: tuple[Registration, ...]
    ambient: Ambient
    gain: float | None
    difference: Floats
    good_rises: tuple[Mapping[str, Rise], ...]
    notes: tuple[str, ...]


def compare_thermal(found: View, good: Sequence[View], outlines: Mapping[str, Outline]) -> ThermalComparison:
    """
    Compares part by part.

    Args:
        found: The object.
        good: Known-good boards of its type, one or more.
        outlines: Of the parts on the first known-good picture. [pixels]

    Raises:
        BadInput: No known-good board, or a picture that could not be registered; the message says why.
    """
    if not good:
        raise BadInput("Cannot compare temperatures", "no known-good picture", "one or more", "Name one.")
    others = tuple(_registered(good[0], one, one.image.source) for one in good[1:])
    registration = _registered(good[0], found, found.image.source)
    ambient = ambient_of(found.image, found.ambient)
    own = _rises(found, ambient, outlines, registration)
    same = Registration(np.eye(3), 0.0, None, (), "itself")
    each = tuple(
        _rises(one, ambient_of(one.image, one.ambient), outlines, how)
        for one, how in zip(good, (same, *others), strict=True)
    )
    parts = tuple(_part(outline, own[ref], [one[ref] for one in each]) for ref, outline in outlines.items())
    first = above(good[0].image, ambient_of(good[0].image, good[0].ambient), good[0].zero)
    onto = warped(above(found.image, ambient, found.zero), registration.matrix, (first.shape[0], first.shape[1]))
    notes = tuple(_notes(found, good, registration, ambient))
    return ThermalComparison(parts, registration, others, ambient, _gain(parts), onto - first, each, notes)


def compare_parts(
    outlines: Mapping[str, Outline], own: Mapping[str, Rise], good: Sequence[Mapping[str, Rise]]
) -> tuple[PartHeat, ...]:
    """
    Compares rises that were read already, each picture placed on the board for itself.

    Args:
        outlines: Of the parts, for their surfaces.
        own: On the object, by part.
        good: On each known-good board; a board may lack parts.
    """
    return tuple(_part(outlines[ref], rise, [one[ref] for one in good if ref in one]) for ref, rise in own.items())


def rates(series: Sequence[tuple[float, TemperatureImage]], comparison: ThermalComparison,
          outlines: Mapping[str, Outline]) -> dict[str, Rate]:  # fmt: skip
    """
    How fast each part of the object warms up.

    Args:
        series: Seconds since switching on and picture, from where the object's picture was taken.
        comparison: Of the object.
        outlines: On the first known-good picture. [pixels]

    Raises:
        BadInput: Fewer than three times.
    """
    over: dict[str, list[tuple[float, float]]] = {ref: [] for ref in outlines}
    for seconds, image in series:
        rises = above(image, comparison.ambient)
        for ref, outline in outlines.items():
            one = rise_of(rises, outline.moved(comparison.registration.matrix), comparison.ambient, 0.0)
            if not one.unread and surfaces()[outline.surface].readable:
                over[ref].append((seconds, one.kelvin))
    return {ref: rise_rate(*zip(*rows, strict=True)) for ref, rows in over.items() if rows}


def thermal_readings(comparison: ThermalComparison, state: str) -> tuple[Reading, ...]:
    """Temperature rises of the object's parts as readings; parts that were not read give none."""
    return tuple(
        _reading(one.rise, state, difference_words(one) if one.good else "", doubtful=False)
        for one in comparison.parts
        if one.verdict != UNREAD
    )


def known_good_readings(comparison: ThermalComparison, state: str) -> tuple[tuple[Reading, ...], ...]:
    """The same of each known-good board, for the reference predictor."""
    unread = {one.ref for one in comparison.parts if one.verdict == UNREAD}
    return tuple(
        tuple(_reading(one, state, "", doubtful=False) for ref, one in board.items()
              if not one.unread and ref not in unread)
        for board in comparison.good_rises
    )  # fmt: skip


def difference_words(one: PartHeat) -> str:
    """
    What the comparison says of a part, for people.
    """
    word = "hotter" if one.difference >= 0 else "colder"
    return f"{one.ref} is {abs(one.difference):.1f} K {word} than known-good ± {one.uncertainty:.1f} K"


def _reading(rise: Rise, state: str, note: str, *, doubtful: bool) -> Reading:
    return Reading(
        rise.ref, "temperature_rise", rise.kelvin, uncertainty=rise.uncertainty, state=state,
        instrument="thermal_camera", note=note, doubtful=doubtful,
    )  # fmt: skip


def _registered(good: View, other: View, name: str) -> Registration:
    """The registration, or an error that says why there is none."""
    if good.corners is not None and other.corners is not None:
        return register_by_corners(good.image.celsius, other.image.celsius, good.corners, other.corners)
    found = register(good.image.celsius, other.image.celsius)
    if found.found:
        return found
    raise BadInput(
        f"Cannot register {name} to {good.image.source}", "; ".join(found.doubts),
        f"the same side of the same board, turned within {number('search_degrees'):g} degrees and within "
        f"{number('search_percent'):g} % of the size",
        "Check that both show the same board, turn the picture, or set its four corners on both pictures.",
    )  # fmt: skip


def _rises(view: View, ambient: Ambient, outlines: Mapping[str, Outline], how: Registration) -> dict[str, Rise]:
    pixels = above(view.image, ambient, view.zero)
    around = Ambient(ambient.celsius, 0.0, False) if view.zero is not None else ambient
    return {ref: rise_of(pixels, one.moved(how.matrix), around, how.error) for ref, one in outlines.items()}


def _part(outline: Outline, rise: Rise, good: Sequence[Rise]) -> PartHeat:
    surface = surfaces()[outline.surface]
    read = [one for one in good if not one.unread]
    values, nan = tuple(one.kelvin for one in read), float("nan")
    if rise.unread or not surface.readable or not values:
        why = surface.caution if not surface.readable else rise.unread or "no known-good board shows it"
        mean = float(np.mean(values)) if values else nan
        return PartHeat(outline.ref, rise, values, mean, nan, nan, nan, UNREAD, why)
    spread = number("healthy_spread_share") * max(float(np.mean(values)), 0.0) + number("healthy_spread_least")
    meter = float(np.sqrt(np.mean([one.uncertainty**2 for one in read])))
    healthy = next_board(values, meter, spread, number("healthy_spread_boards"))
    whole = float(np.hypot(healthy.scale, rise.uncertainty))
    half = coverage_factor(effective_dof([healthy.scale, rise.uncertainty], [healthy.dof, np.inf]), CONFIDENCE) * whole
    away = rise.kelvin - healthy.mean
    verdict = ALIKE if abs(away) <= half else HOTTER if away > 0 else COLDER
    return PartHeat(outline.ref, rise, values, healthy.mean, away, whole, away / half, verdict, surface.caution)


def _gain(parts: Sequence[PartHeat]) -> float | None:
    warm = [p.rise.kelvin / p.good_mean for p in parts if p.verdict != UNREAD and p.good_mean > number("warm")]
    return median(warm) if len(warm) >= number("gain_parts") else None


def _notes(found: View, good: Sequence[View], how: Registration, ambient: Ambient) -> list[str]:
    notes = [f"{one.source}: {words}." for one in (found.image, *(view.image for view in good)) for words in one.notes]
    if found.zero is None and ambient.guessed:
        notes.append(f"The surroundings were taken as {ambient.celsius:.1f} degC, the coolest part of the picture.")
    if how.how == "corners":
        notes.append("The corners set by hand were used as they are: the pictures could not be refined.")
    if len(good) == 1:
        notes.append("One known-good board: how far healthy boards lie apart is supposed, not read.")
    return notes
