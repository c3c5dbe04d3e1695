"""Colour bands of resistors: one to six, read from either end, every meaning ranked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod

from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table
from kilter.parts.markings.bands import Band, colours
from kilter.parts.markings.interpretation import Interpretation, size_weight, weight
from kilter.parts.markings.tolerances import Tolerance, value_words

MOST = 6
FIRST, LAST = "first", "last"
LEAST_OF_FOUR = 0.02
"""Closest tolerance that is marked with two figures only (IEC 60062: closer ones take three)."""
LEAST_CHANCE = 0.01
"""Of the likeliest colours; less likely ones are not thought of."""
COLOURS_TRIED = 4
"""Colours of one band that are tried; a fifth has next to no chance."""


def resistor_colours(bands: Sequence[Band], *, gap: str = "") -> Iterator[Interpretation]:
    """
    Every way to read the bands, from both ends.

    Args:
        bands: One to six, in the order in which they are seen.
        gap: 'first' or 'last': which band stands apart or is wider, and so is the tolerance; '' if none does.

    Raises:
        OutOfRange: No band or more than six.

    >>> from kilter.parts.markings.bands import bands_of
    >>> [one.words for one in resistor_colours(bands_of("brown black red gold".split()))]
    ['1 kΩ ±5 %']
    """
    if not 1 <= len(bands) <= MOST:
        raise OutOfRange("Cannot read the colour bands", f"{len(bands)} bands", f"1 to {MOST} bands",
                         "Leave out the colour of the body, or count again.")  # fmt: skip
    likely = [sorted(band.items(), key=lambda one: -one[1])[:COLOURS_TRIED] for band in bands]
    most = prod(band[0][1] for band in likely)
    for chosen in product(*likely):
        names, chance = [name for name, _ in chosen], prod(share for _, share in chosen)
        if chance < LEAST_CHANCE * most:
            continue
        if len(names) == 1:
            yield from _link(names[0], chance)
            continue
        for way, order in ((LAST, names), (FIRST, names[::-1])):
            if way == FIRST and names == names[::-1]:
                continue
            yield from _layouts(order, chance * (weight("wide_gap") if gap == way else 1.0), way)


def _link(name: str, chance: float) -> Iterator[Interpretation]:
    if name == "black":
        yield Interpretation("colour_bands", "resistor", "0 Ω link", {"resistance": 0.0}, chance, (), source())


def _layouts(names: list[str], chance: float, way: str) -> Iterator[Interpretation]:
    """The readings of bands in this order: figures, multiplier, then what follows."""
    figures = 2 if len(names) <= 4 else 3
    if len(names) < 3:
        return
    after = names[figures + 1 :]
    heard = "read from the other end" if way == FIRST else ""
    if len(names) <= 4 or len(names) == 5:
        for within, times, reason in _tolerances(after[0] if after else ""):
            yield from _value(names, figures, within, chance * times, (heard, reason))
    else:
        ppm = colours()[after[1]].get("tempco")
        for within, times, reason in _tolerances(after[0]) if ppm is not None else ():
            usual = chance * times * weight("six_bands")
            yield from _value(names, figures, within, usual, (heard, reason), ppm=ppm)
    if len(names) == 5:
        yield from _four_and_one(names, chance, heard)


def _four_and_one(names: list[str], chance: float, heard: str) -> Iterator[Interpretation]:
    """Five bands as four and one that says something else."""
    rate = table("markings/colours")["failure_rate"].get(names[4])
    ppm = colours()[names[4]].get("tempco")
    for within, times, reason in _tolerances(names[3]):
        if within.above < LEAST_OF_FOUR:
            continue
        if isinstance(rate, float):
            told = f"the fifth band as a failure rate of {rate * 100:g} % in 1000 h"
            yield from _value(names, 2, within, chance * times * weight("failure_rate"), (heard, reason, told))
        if ppm is not None:
            told = "the fifth band as a temperature coefficient"
            usual = chance * times * weight("tempco_of_five")
            yield from _value(names, 2, within, usual, (heard, reason, told), ppm=ppm)


def _tolerances(name: str) -> Iterator[tuple[Tolerance, float, str]]:
    """Every tolerance that a band may stand for, with its weight and reason; '' for no band."""
    data = table("markings/colours")
    if not name:
        share = float(data["no_tolerance_band"]["value"])
        yield Tolerance(-share, share), weight("four_bands"), ""
        return
    earlier = data["earlier_tolerance"].get(name)
    now = colours()[name].get("tolerance")
    if now is not None:
        times, told = (weight("recent_tolerance"), "as since 2016") if earlier else (weight("four_bands"), "")
        yield Tolerance(-now, now), times, f"{name} as a tolerance {told}" if told else ""
    if earlier is not None:
        yield Tolerance(-earlier, earlier), weight("earlier_tolerance"), f"{name} as a tolerance as before 2016"


def _value(
    names: list[str], figures: int, within: Tolerance, chance: float, reasons: Sequence[str], *, ppm: int | None = None
) -> Iterator[Interpretation]:
    digits = [colours()[name].get("digit") for name in names[:figures]]
    factor = colours()[names[figures]].get("multiplier")
    if None in digits or factor is None:
        return
    number = int("".join(f"{digit}" for digit in digits))
    if number == 0:
        return
    value = float(f"{number * factor:.6g}")
    usual, more = size_weight(value, "ohm", within.above)
    told = [*reasons, *more]
    if digits[0] == 0:
        usual *= weight("leading_nought")
        told.append("the first digit is 0")
    fields: dict[str, object] = {"resistance": value, "tolerance": [within.below, within.above], "colours": names}
    words = value_words(value, "ohm", within)
    if ppm is not None:
        fields["ppm"] = ppm
        words += f", ±{ppm} ppm/K"
    kept = tuple(filter(None, told))
    yield Interpretation("colour_bands", "resistor", words, fields, chance * usual, kept, source())


def source() -> str:
    """Where the code is from."""
    return str(table("markings/colours")["resistor"]["source"])
