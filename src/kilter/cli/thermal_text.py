"""What a comparison of temperature pictures says, as text and as plain data."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from kilter.circuit.board import Board
from kilter.cli.layout import columns, heading, wrapped
from kilter.services.compare_thermal import ALIKE, UNREAD, PartHeat, ThermalComparison, difference_words
from kilter.services.place_outlines import Placed
from kilter.thermal.heat import Rate
from kilter.thermal.inside_part import Span, junction_span

Rates = Mapping[str, Rate]
Powers = Mapping[str, float]


def print_comparison(board: Board, found: ThermalComparison, rising: Rates, powers: Powers, placed: Placed) -> None:
    """Prints the comparison."""
    how = found.registration
    left = "of a hand that sets corners" if how.how == "corners" else "left between the pictures"
    print(f"{board.name}: registered by {how.how}, about {how.error:.1f} pixels {left}.")
    if placed.placing is not None:
        print(wrapped(_placing_words(placed)))
    print(heading("temperature rise"))
    rows = [("", "part", "object", "known-good", "difference", "verdict")]
    rows += [_row(one) for one in sorted(found.parts, key=_order)]
    print(columns(rows))
    for caution in dict.fromkeys(one.caution for one in found.parts if one.caution):
        print(wrapped(f"{', '.join(one.ref for one in found.parts if one.caution == caution)}: {caution}", 2, 2))
    if rising:
        print(heading("rate of rise after switching on"))
        print(columns([(ref, _rate(one)) for ref, one in rising.items()]))
    spans = junctions(found, powers)
    if spans:
        print(heading("junction, estimated from the top of the package"))
        print(columns([(ref, f"{low:.0f} to {high:.0f} degC") for ref, (low, high) in spans.items()]))
    print()
    if found.gain is not None:
        print(wrapped(f"The object's parts run at {found.gain:.2f} times the rise of known-good, in the middle."))
    for note in found.notes:
        print(wrapped(note))
    print(
        wrapped(
            "Colder than known-good counts like hotter: a part that does nothing stays cold. A part that is like "
            "known-good was not shown to be good."
        )
    )


def junctions(found: ThermalComparison, powers: Powers) -> dict[str, Span]:
    """Junction temperatures of the parts whose power is named."""
    rises = {one.ref: one.rise for one in found.parts if one.verdict != UNREAD}
    return {
        ref: junction_span(found.ambient.celsius + rises[ref].kelvin, watts)
        for ref, watts in powers.items()
        if ref in rises
    }


def plain(found: ThermalComparison, rising: Rates, powers: Powers, placed: Placed) -> dict[str, Any]:
    """The comparison as plain data."""
    how = found.registration
    return {
        "registration": {"how": how.how, "error": how.error, "matrix": how.matrix.tolist()},
        "placing": None
        if placed.placing is None
        else {
            "kind": placed.placing.kind,
            "error": placed.placing.error,
            "residuals": list(placed.placing.residuals),
        },
        "ambient": found.ambient.celsius,
        "ambient_guessed": found.ambient.guessed,
        "gain": found.gain,
        "parts": [_plain(one) for one in found.parts],
        "rates": {
            ref: {"kelvin_per_second": one.kelvin_per_second, "uncertainty": one.uncertainty, "steady": one.steady}
            for ref, one in rising.items()
        },
        "junctions": {ref: list(span) for ref, span in junctions(found, powers).items()},
        "notes": list(found.notes),
    }


def _placing_words(placed: Placed) -> str:
    assert placed.placing is not None
    if placed.placing.error is None:
        return "The outlines were placed by as few points as will do: nothing tells how well they fit. Match one more."
    return (
        f"The outlines were placed by {len(placed.placing.residuals)} points, about {placed.placing.error:.1f} pixels "
        f"off; {placed.worst} fits least."
    )


def _order(one: PartHeat) -> float:
    return math.inf if math.isnan(one.ratio) else -abs(one.ratio)


def _row(one: PartHeat) -> tuple[str, str, str, str, str, str]:
    mark = "" if one.verdict in (ALIKE, UNREAD) else "*"
    rise = "-" if one.verdict == UNREAD else f"{one.rise.kelvin:.1f} ± {one.rise.uncertainty:.1f} K"
    good = "-" if one.verdict == UNREAD else f"{one.good_mean:.1f} K"
    away = "-" if one.verdict == UNREAD else f"{one.difference:+.1f} ± {one.uncertainty:.1f} K"
    return mark, one.ref, rise, good, away, one.verdict


def _rate(one: Rate) -> str:
    bend = "" if one.steady else ", not along a line: it nears its end, or something changed"
    return f"{one.kelvin_per_second:.2f} ± {one.uncertainty:.2f} K/s{bend}"


def _plain(one: PartHeat) -> dict[str, Any]:
    return {
        "part": one.ref,
        "rise": one.rise.kelvin,
        "rise_uncertainty": one.rise.uncertainty,
        "pixels": one.rise.pixels,
        "known_good": list(one.good),
        "difference": one.difference,
        "uncertainty": one.uncertainty,
        "ratio": one.ratio,
        "verdict": one.verdict,
        "caution": one.caution,
        "words": "" if one.verdict == UNREAD else difference_words(one),
    }
