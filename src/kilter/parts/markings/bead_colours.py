"""Colours of old dipped tantalum beads: two digits, a spot, and a band for the voltage."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod

from kilter.measure.tables import table
from kilter.parts.markings.bands import Band, colours
from kilter.parts.markings.interpretation import Interpretation, size_weight, weight
from kilter.parts.markings.tolerances import value_words


def bead_colours(bands: Sequence[Band]) -> Iterator[Interpretation]:
    """
    Readings of top band, middle band, spot, and where it is seen the band near the leads.

    >>> from kilter.parts.markings.bands import bands_of
    >>> [one.words for one in bead_colours(bands_of(["yellow", "violet", "white", "black"]))]
    ['4.7 µF, 10 V']
    """
    data = table("markings/colours")["tantalum_bead"]
    if len(bands) not in (3, 4):
        return
    for chosen in product(*(band.items() for band in bands)):
        names = [name for name, _ in chosen]
        digits = [colours()[name].get("digit") for name in names[:2]]
        factor, volts = data["spot"].get(names[2]), data["volts"].get(names[3]) if len(names) == 4 else None
        if None in digits or not digits[0] or factor is None or (len(names) == 4 and volts is None):
            continue
        value = float(f"{(digits[0] * 10 + digits[1]) * factor * 1e-6:.6g}")
        usual, reasons = size_weight(value, "electrolytic", 0.2)
        chance = prod(share for _, share in chosen) * weight("bead") * usual
        fields = {"capacitance": value, "colours": names} | ({"volts": volts} if volts is not None else {})
        words = value_words(value, "F", None) + (f", {volts:g} V" if volts is not None else "")
        yield Interpretation("bead_colours", "tantalum", words, fields, chance, reasons, data["source"])
