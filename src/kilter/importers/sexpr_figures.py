"""Numbers and points inside S-expressions, refused with their line where they are none."""

from __future__ import annotations

from math import isfinite

from kilter.importers.sexpr import Form
from kilter.measure.errors import BadInput

LARGEST = 1e6
"""Coordinates beyond this many millimetres are refused."""


def figure(form: Form, place: int, default: float | None = None) -> float:
    """
    The number at a place of a list.

    Raises:
        BadInput: It is no number, not finite or larger than LARGEST; or absent, without a default.
    """
    word = form.at(place)
    if not word and default is not None:
        return default
    try:
        number = float(word)
    except ValueError:
        number = float("nan")
    if isfinite(number) and abs(number) <= LARGEST:
        return number
    file = form.source.file
    raise BadInput(f"Cannot read {file}", f"'{word}' in ({form.name} ...) at {file} line {form.line}",
                   f"a number up to {LARGEST:g}", "Save the file again with the program that made it.")  # fmt: skip


def spot(form: Form) -> tuple[float, float]:
    """The two numbers behind the name of a list, such as (at 12.7 50.8 90)."""
    return figure(form, 1), figure(form, 2)
