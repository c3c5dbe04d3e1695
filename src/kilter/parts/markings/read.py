"""Read a marking by every scheme that may apply, and rank what comes out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from kilter.measure.errors import BadInput
from kilter.parts.markings.bands import Band
from kilter.parts.markings.bead_colours import bead_colours
from kilter.parts.markings.capacitor_code import capacitor_code, ceramic_chip
from kilter.parts.markings.chip_resistors import chip_resistor
from kilter.parts.markings.chips import chip
from kilter.parts.markings.dates import date_codes
from kilter.parts.markings.dielectrics import dielectric
from kilter.parts.markings.electrolytic_code import electrolytic_code
from kilter.parts.markings.inductor_code import inductor_code
from kilter.parts.markings.interpretation import LIKELY, Interpretation, Ranked, ranked, weight
from kilter.parts.markings.letter_code import letter_code
from kilter.parts.markings.resistor_colours import resistor_colours
from kilter.parts.markings.resistor_words import resistor_words
from kilter.parts.markings.semiconductors import semiconductor

KINDS = ("resistor", "capacitor", "ceramic", "film", "electrolytic", "tantalum", "inductor", "semiconductor", "chip",
         "date")  # fmt: skip
"""What a person can say that the marking stands on."""
LONGEST = 60
LOOK_ALIKES = str.maketrans({"μ": "µ", "Ω": "Ω", "–": "-", "−": "-", "\u00a0": " "})
SMALL, BIG = ("ceramic", "film"), ("electrolytic", "tantalum")


@dataclass(frozen=True)
class Piece:
    """A text on a part, and its readings, best first; none where no scheme reads it."""

    text: str
    readings: tuple[Ranked, ...]

    @property
    def settled(self) -> bool:
        """Whether one reading leads clearly."""
        return bool(self.readings) and self.readings[0].standing == LIKELY


def read_marking(text: str, kind: str = "", *, first: int | None = None, last: int | None = None) -> tuple[Piece, ...]:
    """
    The readings of a marking, by piece: a type number and a date code on one chip are two pieces.

    Args:
        text: As printed; a line break is a blank.
        kind: One of KINDS where it is known what the marking stands on; '' tries all.
        first: First possible year of a date code.
        last: Last possible year of a date code.

    Raises:
        BadInput: The text is empty or too long, or the kind is unknown.

    >>> [(one.reading.words, one.standing) for one in read_marking("4K7J", "resistor")[0].readings]
    [('4.7 kΩ ±5 %', 'likely')]
    >>> [piece.readings[0].reading.words for piece in read_marking("SN74LS00N 8432", last=1999)]
    ['74LS00: four 2-input NAND gates, low-power Schottky TTL', 'week 32 of 1984']
    """
    if kind and kind not in KINDS:
        raise BadInput("Cannot read the marking", f"the kind '{kind}'", ", ".join(KINDS), "Use one of these.")
    plain = " ".join(text.translate(LOOK_ALIKES).split())
    if not plain or len(plain) > LONGEST:
        found = "nothing" if not plain else f"{len(plain)} characters"
        raise BadInput("Cannot read the marking", found, f"1 to {LONGEST} characters", "Type what is printed.")
    words = plain.split()
    whole = ranked(_readings(plain, kind, (first, last)))
    if len(words) == 1:
        return (Piece(plain, whole),)
    may_be_dated = kind in ("", "chip", "semiconductor")
    dates = {word: ranked(_dates_beside(word, (first, last))) for word in words if may_be_dated}
    if whole and (whole[0].reading.kind not in ("capacitor", *SMALL, *BIG)):
        return (Piece(plain, whole), *(Piece(word, found) for word, found in dates.items() if found))
    if whole and "unread" not in whole[0].reading.fields:
        return (Piece(plain, whole),)
    return tuple(Piece(word, ranked(_readings(word, kind, (first, last)))) for word in words)


def read_colours(bands: Sequence[Band], kind: str = "", *, gap: str = "") -> Piece:
    """
    The readings of colour bands: on a resistor, or on a tantalum bead if the kind says so.

    Raises:
        OutOfRange: Too few or too many bands.
    """
    name = ", ".join(max(band, key=lambda colour: band[colour]) for band in bands)
    found: list[Interpretation] = []
    if kind in ("", "resistor"):
        found += resistor_colours(bands, gap=gap)
    if kind in ("capacitor", "tantalum"):
        found += bead_colours(bands)
    return Piece(name, ranked(found))


def _readings(text: str, kind: str, span: tuple[int | None, int | None]) -> Iterator[Interpretation]:
    squeezed = text.replace(" ", "")
    every = not kind
    if every or kind == "resistor":
        yield from letter_code(squeezed, "resistor")
        yield from chip_resistor(squeezed)
        yield from resistor_words(text)
    if every or kind in ("capacitor", *SMALL):
        yield from capacitor_code(text, kind or "capacitor")
        if len(text.split()) == 1:
            yield from dielectric(text)
            yield from _unless_told(ceramic_chip(text), kind, "ceramic")
    if every or kind in ("capacitor", *BIG):
        yield from electrolytic_code(text, kind if kind in BIG else "electrolytic")
    if every or kind == "inductor":
        yield from _unless_told(inductor_code(squeezed), kind, "inductor")
    if every or kind == "semiconductor":
        yield from semiconductor(squeezed)
    if every or kind == "chip":
        yield from chip(text)
    if (every or kind == "date") and len(text.split()) == 1:
        yield from date_codes(text, *span)


def _unless_told(found: Iterator[Interpretation], kind: str, own: str) -> Iterator[Interpretation]:
    """Rare codes count less where nobody said what they stand on."""
    times = 1.0 if kind == own else weight("other_kind")
    yield from (replace(one, weight=one.weight * times) for one in found)


def _dates_beside(word: str, span: tuple[int | None, int | None]) -> Iterator[Interpretation]:
    """Dates of a word beside a type number: year and week, or letter and month."""
    if re.fullmatch(r"\d{4}|[A-Z][1-9OND]", word):
        yield from date_codes(word, *span)
