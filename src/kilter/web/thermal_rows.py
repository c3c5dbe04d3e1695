"""The table beside a temperature picture: each part's rise, what its surface hides, and what was expected."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Any

from kilter.measure.measured import Measured, engineering
from kilter.services.compare_thermal import ALIKE, UNREAD, PartHeat
from kilter.services.place_thermal import CARRIED, MARKED, OUTLINED, POSITION
from kilter.services.predict import Expectation
from kilter.services.read_thermal import PartRise
from kilter.web.thermal_look import Beside, Look

MOST_NAMED = 12
"""Parts named before a caution; the rest of a board is only hinted at."""

HOW = {MARKED: "marked", CARRIED: "as marked on the other picture", OUTLINED: "by its outline",
       POSITION: "by its middle, size not known"}  # fmt: skip
OUTSIDE = 2.0
"""Standard uncertainties by which a rise has to lie outside the model's band to be marked."""


def rows_of(
    look: Look,
    beside: Beside,
    model: Mapping[str, Expectation],
    known: Collection[str],
    chosen: Collection[str] | None = None,
) -> list[dict[str, Any]]:
    """
    Rows, the most telling first.

    Args:
        look: The picture.
        beside: Those of good specimens.
        model: What the board's model expects, by part.
        known: Parts of which the picture gave the visit a reading already.
        chosen: Parts that were ticked; None before anything was sent.
    """
    rows = [_row(ref, one, beside.heats.get(ref), model.get(ref)) for ref, one in look.parts.items()]
    for row in rows:
        row["known"] = row["ref"] in known
        row["ticked"] = row["ref"] in chosen if chosen is not None else row["trusted"]
    return sorted(rows, key=lambda row: (not row["readable"], not row["off"], not row["trusted"], -row["size"]))


def cautions_of(rows: Collection[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """What to know about parts, each sentence once with the parts it is about; those that matter come first."""
    told: dict[str, list[str]] = {}
    for row in rows:
        if row["why"]:
            told.setdefault(row["why"], []).append(row["ref"])
    cut = {why: [*refs[:MOST_NAMED], *(["…"] if len(refs) > MOST_NAMED else [])] for why, refs in told.items()}
    return [(", ".join(refs), why) for why, refs in cut.items()]


def off_parts(rows: Collection[Mapping[str, Any]]) -> frozenset[str]:
    """Parts that are unlike what was expected."""
    return frozenset(row["ref"] for row in rows if row["off"])


def _row(ref: str, one: PartRise, heat: PartHeat | None, model: Expectation | None) -> dict[str, Any]:
    rise, readable = one.rise, one.readable
    compared = heat is not None and heat.verdict != UNREAD
    outside = _outside(one, model) if readable else ""
    return {
        "ref": ref,
        "readable": readable,
        "trusted": readable and one.spot.trusted,
        "how": HOW[one.spot.how],
        "rise": "" if rise.unread else str(Measured(rise.kelvin, "K", rise.uncertainty)),
        "weighed": str(Measured(rise.kelvin, "K", one.uncertainty)) if readable else "",
        "surface": one.surface.words,
        "true": _span(one.true),
        "why": one.why,
        "good": engineering(heat.good_mean, "K") if heat is not None and compared else "",
        "boards": len(heat.good) if heat is not None else 0,
        "away": _away(heat) if heat is not None and compared else "",
        "verdict": heat.verdict if heat is not None and compared else "",
        "model": model.text if model is not None else "",
        "outside": outside,
        "first": one.spot.trusted or bool(outside) or (compared and heat is not None and heat.verdict != ALIKE),
        "off": bool(outside) or (heat is not None and compared and heat.verdict != ALIKE),
        "size": 0.0 if math.isnan(rise.kelvin) else abs(rise.kelvin),
    }


def _away(heat: PartHeat) -> str:
    sign = "+" if heat.difference >= 0 else ""
    return sign + str(Measured(heat.difference, "K", heat.uncertainty))


def _span(span: tuple[float, float] | None) -> str:
    if span is None:
        return ""
    low, high = (f"{end:.0f}" for end in span)
    return f"{low} °C" if low == high else f"{low} to {high} °C"


def _outside(one: PartRise, model: Expectation | None) -> str:
    """Whether the rise lies outside the healthy band by more than its own uncertainty lets it."""
    if model is None or math.isnan(model.mean):
        return ""
    room = OUTSIDE * one.uncertainty
    if one.rise.kelvin - room > model.high:
        return "hotter"
    return "colder" if one.rise.kelvin + room < model.low else ""
