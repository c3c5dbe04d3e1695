"""The numbers of data/reference.toml."""

from __future__ import annotations

from kilter.measure.quantities import quantity
from kilter.measure.tables import table


def number(key: str) -> float:
    """One number by its key."""
    return float(table("reference")["numbers"][key]["value"])


def supposed_spread(quantity_key: str, value: float) -> float:
    """
    Standard deviation over healthy boards of one type, before any of them was read. [scaled]

    Args:
        quantity_key: Of a number.
        value: Typical reading, on the scale of the quantity.

    >>> supposed_spread("voltage", 5.0) < supposed_spread("voltage", 12.0)
    True
    """
    rows, what = table("reference")["spread"], quantity(quantity_key)
    row = rows.get(quantity_key, rows[f"other_{what.scale}"])
    if what.scale == "log":
        return float(row["share"])
    return float(row["share"]) * abs(value) + float(row["least"])
