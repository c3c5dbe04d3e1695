"""Units of temperature files: told by the file, by a person, or by the numbers where only one unit fits them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.thermal.figures import number

Floats = NDArray[np.float64]

ZERO = 273.15
"""0 degC in kelvin, by definition."""


def unit_keys() -> tuple[str, ...]:
    """Units that a file may hold."""
    return tuple(table("thermal")["units"])


def celsius(values: Floats, unit: str) -> Floats:
    """
    Numbers of a file in degrees Celsius.

    >>> float(celsius(np.array(29815.0), "centikelvin").round(6)), float(celsius(np.array(212.0), "degF").round(6))
    (25.0, 100.0)
    """
    row = table("thermal")["units"][unit]
    return np.asarray((values + row["offset"]) * row["factor"] - ZERO)


def told_unit(text: str) -> str:
    """The one unit that words beside the numbers name; '' where they name none or several."""
    low = text.lower()
    rows = table("thermal")["units"]
    found = [key for key, row in rows.items() if any(word in low for word in row["spelled"])]
    if "centikelvin" in found or "decikelvin" in found:
        found = [key for key in found if key != "K"]
    return found[0] if len(found) == 1 else ""


def fitting_units(values: Floats) -> tuple[str, ...]:
    """Units in which the numbers would be a picture taken on a bench."""
    middle, low, high = (float(f(values)) for f in (np.median, np.min, np.max))
    found = []
    for key in unit_keys():
        at, least, most = celsius(np.array([middle, low, high]), key)
        usual = number("usual_low") <= at <= number("usual_high")
        if usual and least >= number("coldest") and most <= number("hottest"):
            found.append(key)
    return tuple(found)


def settle_unit(values: Floats, told: str, asked: str, doing: str) -> tuple[str, str]:
    """
    The unit of the numbers and, where it was inferred, a sentence that says so.

    Args:
        values: As in the file.
        told: Unit that the file names, or ''.
        asked: Unit that a person names, or ''.
        doing: What is being read, for messages.

    Raises:
        BadInput: No unit or several fit, or the unit that was named does not.
    """
    units = table("thermal")["units"]
    if asked and asked not in units:
        raise BadInput(doing, f"the unit '{asked}'", ", ".join(units), "Name one of these with --unit.")
    fitting = fitting_units(values)
    named = asked or told
    if named:
        low, high = celsius(np.array([values.min(), values.max()]), named)
        if low < number("coldest") or high > number("hottest"):
            raise BadInput(doing, f"{low:.0f} to {high:.0f} degC if its numbers are {units[named]['words']}",
                           f"{number('coldest'):g} to {number('hottest'):g} degC",
                           "Name its true unit with --unit.")  # fmt: skip
        return named, "" if asked or told in fitting else f"the file names {units[named]['words']}, unusual for a bench"
    if len(fitting) == 1 and fitting[0] != "degF":
        return fitting[0], f"unit not written in the file; its numbers fit {units[fitting[0]]['words']} only"
    can = " or ".join(units[key]["words"] for key in fitting) or "none of the units that are known"
    raise BadInput(doing, f"numbers from {values.min():g} to {values.max():g} without a unit, which could be {can}",
                   ", ".join(units), "Name the unit with --unit.")  # fmt: skip
