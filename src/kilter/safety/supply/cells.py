"""Cells inside old objects: what they still hold, how long they keep a memory, and how likely they have leaked."""

from __future__ import annotations

from math import exp
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table

CAUTION = (
    "A leaked cell is corrosive: gloves and eye protection, pH paper before any neutraliser. Lithium and lead cells "
    "can burn or gas; never charge, open or short one. Disposal is for the rules of your country."
)


def chemistries() -> tuple[str, ...]:
    """Keys of the kinds of cell."""
    return tuple(table("safety/cells"))


def share_left(kind: str, years: float) -> float:
    """
    Share of its capacity that a stored cell still has, unless it leaked.

    Args:
        kind: One of `chemistries()`.
        years: Since it was made or last charged.

    Valid: at room temperature; warmth loses more.
    Source: data/safety/cells.toml, from memory.

    >>> round(share_left("alkaline", 5.0), 2)
    0.88
    """
    return float((1.0 - float(_cell(kind)["loss_per_month"])) ** (12.0 * _years(years)))


def hold_hours(kind: str, years: float, capacity_ah: float, load_amperes: float) -> float:
    """
    How long the cell would keep a memory. [h]

    Args:
        kind: One of `chemistries()`.
        years: Since it was made or last charged.
        capacity_ah: When new. [A h]
        load_amperes: Of the memory it keeps. [A]

    >>> round(hold_hours("lithium_manganese", 0.0, 0.22, 10e-6))
    22000
    """
    if capacity_ah <= 0 or load_amperes <= 0:
        raise BadInput("Cannot work out a cell", f"{capacity_ah:g} A h and {load_amperes:g} A", "numbers above 0",
                       "Correct them.")  # fmt: skip
    return share_left(kind, years) * capacity_ah / load_amperes


def leak_chance(kind: str, years: float) -> float:
    """
    Chance that a cell left in its place has leaked by now, from a constant yearly rate after the years it keeps.

    Source: data/safety/cells.toml, judgement.

    >>> leak_chance("nickel_cadmium", 2.0), round(leak_chance("nickel_cadmium", 30.0), 2)
    (0.0, 0.95)
    """
    cell = _cell(kind)
    return 1.0 - exp(-float(cell["leaks_per_year"]) * max(0.0, _years(years) - float(cell["keeps_years"])))


def _cell(kind: str) -> dict[str, Any]:
    rows = table("safety/cells")
    if kind not in rows:
        raise BadInput("Cannot work out a cell", f"the kind '{kind}'", ", ".join(rows), "Use one of these.")
    return dict(rows[kind])


def _years(years: float) -> float:
    if not 0 <= years < 200:
        raise BadInput("Cannot work out a cell", f"{years:g} years", "0 to 200 years", "Correct it.")
    return years
