"""Colour bands: names of colours, and how sure one is of each band."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table

Band = Mapping[str, float]
"""Chance of each colour that a band may be; they add up to 1."""


def colours() -> Mapping[str, Mapping[str, Any]]:
    """What each colour stands for on a resistor."""
    found: Mapping[str, Mapping[str, Any]] = table("markings/colours")["resistor"]["colours"]
    return found


def colour_named(word: str) -> str:
    """
    The colour of a word or of the two letters of IEC 60757.

    Raises:
        BadInput: No such colour; the message lists them.

    >>> colour_named("Gray"), colour_named("VT"), colour_named("rot")
    ('grey', 'violet', 'red')
    """
    plain = word.strip().casefold()
    letters = {str(entry["letters"]).casefold(): name for name, entry in colours().items()}
    others = table("markings/colours")["other_names"]
    for found in (plain, letters.get(plain, ""), str(others.get(plain, ""))):
        if found in colours():
            return found
    raise BadInput("Cannot read the colour bands", f"the colour '{word.strip()[:40]}'", ", ".join(colours()),
                   "Use one of these words, separated by commas.")  # fmt: skip


def bands_of(names: Iterable[str], *, heated: bool = False) -> tuple[Band, ...]:
    """
    Bands from the names of their colours.

    Args:
        names: In the order in which they stand.
        heated: They may have changed with heat or age, so that neighbouring colours are thought of too.
    """
    found = [colour_named(name) for name in names]
    return tuple(_after_heat(name) if heated else {name: 1.0} for name in found)


def _after_heat(name: str) -> Band:
    data = table("markings/colours")["heated"]
    others = sorted({one for group in data["groups"] if name in group for one in group} - {name})
    share = float(data["mistaken"])
    return {name: 1.0 - share * len(others), **dict.fromkeys(others, share)} if others else {name: 1.0}
