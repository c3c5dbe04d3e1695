"""`kilter marking`: what is printed on a part, in every way that it can be read."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.importers.picked_pixels import picked_pixels, pixel_named
from kilter.measure.errors import BadInput
from kilter.parts.markings import KINDS, Piece, read_colours, read_marking
from kilter.parts.markings.bands import Band, bands_of
from kilter.parts.markings.electrolytic_code import POLARITY
from kilter.parts.markings.pixel_colours import SeenBand, middle, patch_reach, see_band
from kilter.services.wording import percent

HELP = "what a marking, colour bands or a date code can mean"
DESCRIPTION = (
    "Reads what is printed on a part by every scheme that may apply: values, tolerances, voltages, dielectrics, type "
    "numbers, dates, colour bands. Where more than one reading is in question all are listed, best first, with reasons."
)
UNANSWERED = 3
LISTED = 8
POLARISED = ("electrolytic", "tantalum")


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    add = parser.add_argument
    add("text", metavar="TEXT", nargs="*", help="what is printed; a line break is a blank")
    add("--kind", choices=KINDS, default="", help="what it is printed on, if that is known")
    add("--colours", metavar="LIST", default="", help="colours of the bands as seen: red,violet,brown,gold")
    add("--heated", action="store_true", help="the colours may have changed with heat or age")
    add("--gap", choices=("first", "last"), default="", help="which band stands apart or is wider")
    add("--pixels", metavar=("FILE", "X,Y"), nargs="+", help="a photograph and one pixel of each band in order")
    add("--white", metavar="X,Y", default="", help="a pixel of white paper in the same photograph")
    add("--first", metavar="YEAR", type=int, help="first possible year of a date code")
    add("--last", metavar="YEAR", type=int, help="last possible year of a date code")
    add("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the readings; exit code 3 where none leads clearly."""
    text = " ".join(chosen.text)
    given = [name for name, one in (("TEXT", text), ("--colours", chosen.colours), ("--pixels", chosen.pixels)) if one]
    if len(given) != 1:
        raise BadInput("Cannot read the marking", " and ".join(given) or "nothing", "TEXT, --colours or --pixels",
                       "Give one of them.")  # fmt: skip
    seen = _seen(chosen) if chosen.pixels else ()
    if text:
        pieces = read_marking(text, chosen.kind, first=chosen.first, last=chosen.last)
    else:
        bands: tuple[Band, ...] = tuple(one.band for one in seen)
        bands = bands or bands_of(chosen.colours.split(","), heated=chosen.heated)
        pieces = (read_colours(bands, chosen.kind, gap=chosen.gap),)
    doubtful = [str(place) for place, one in enumerate(seen, 1) if one.none > 0.5]
    print(as_json(_plain(pieces, seen)) if chosen.json else _text(pieces, seen))
    open_pieces = [piece.text for piece in pieces if not piece.settled]
    if doubtful:
        print(f"Unanswered: band {', '.join(doubtful)} looks like none of the colours.", file=sys.stderr)
    if open_pieces:
        print(f"Unanswered: no single reading of '{'; '.join(open_pieces)}' leads clearly.", file=sys.stderr)
    return UNANSWERED if open_pieces or doubtful else 0


def _seen(chosen: argparse.Namespace) -> tuple[SeenBand, ...]:
    path, *words = chosen.pixels
    if not words:
        raise BadInput("Cannot read the pixels", "no pixel", "a photograph and one X,Y for each band", "Pick them.")
    places = [pixel_named(word) for word in words]
    white = [pixel_named(chosen.white)] if chosen.white else []
    patches = [middle(patch) for patch in picked_pixels(Path(path), [*places, *white], patch_reach())]
    return tuple(see_band(rgb, patches[-1] if white else None) for rgb in patches[: len(places)])


def _text(pieces: tuple[Piece, ...], seen: tuple[SeenBand, ...]) -> str:
    parts = []
    if seen:
        parts += [heading("bands as seen"), columns(_band_row(place, one) for place, one in enumerate(seen, 1))]
    for piece in pieces:
        parts.append(f"\n{piece.text}")
        if not piece.readings:
            parts.append("  no scheme reads this")
        for one in piece.readings[:LISTED]:
            parts.append(wrapped(f"{one.standing}: {one.reading.words}  ({one.reading.kind}, "
                                 f"{one.reading.scheme.replace('_', ' ')})", 2, 2))  # fmt: skip
            parts += [wrapped(f"- {words}", 4, 2) for words in one.reading.because]
        if len(piece.readings) > LISTED:
            parts.append(wrapped(f"and {len(piece.readings) - LISTED} more; --json lists them", 2))
    if any(piece.readings and piece.readings[0].reading.kind in POLARISED for piece in pieces):
        parts.append(heading("which end is which"))
        parts += [wrapped(f"- {case}: {words}.", 2, 2) for case, words in POLARITY.items()]
        parts.append(wrapped("A board's print can be wrong: write down how the old one sat.", 2))
    return "\n".join(parts).lstrip("\n")


def _band_row(place: int, one: SeenBand) -> tuple[str, ...]:
    likely = sorted(one.band.items(), key=lambda pair: -pair[1])
    near = ", ".join(f"{name} {percent(share)}" for name, share in likely[:3] if share >= 0.01)
    rgb = ", ".join(f"{value:.0f}" for value in one.rgb)
    return f"{place}", f"rgb {rgb}", f"{near}; none of these {percent(one.none)}"


def _plain(pieces: tuple[Piece, ...], seen: tuple[SeenBand, ...]) -> dict[str, Any]:
    return {
        "pieces": [
            {
                "text": piece.text,
                "settled": piece.settled,
                "readings": [
                    {"words": one.reading.words, "kind": one.reading.kind, "scheme": one.reading.scheme,
                     "standing": one.standing, "share": round(one.share, 4), "fields": dict(one.reading.fields),
                     "because": list(one.reading.because), "source": one.reading.source}
                    for one in piece.readings
                ],
            }
            for piece in pieces
        ],
        "bands": [
            {"rgb": list(one.rgb), "none": round(one.none, 4),
             "colours": {name: round(share, 4) for name, share in one.band.items() if share >= 0.001}}
            for one in seen
        ],
        "polarity": POLARITY,
    }  # fmt: skip
