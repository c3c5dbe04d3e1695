"""Adaptor files: what the object wants, what is offered, and where; see docs/adaptor.md for their form."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from kilter.importers.toml_tables import Table, read_toml
from kilter.measure.tables import table
from kilter.records.power import KINDS, POLARITIES, Mains, Offered, Wanted
from kilter.services.check_adaptor import mains_at


@dataclass(frozen=True)
class PowerDescription:
    """The pair, the mains between them, and whether they were used together already."""

    wanted: Wanted
    offered: Offered
    mains: Mains
    used: bool


def read_power(path: Path) -> PowerDescription:
    """
    The description in a file; a key that is left out is not known.

    Raises:
        BadInput: Not readable, an unknown key or place, or a value that cannot be.
    """
    file = read_toml(path, "the adaptor file")
    used = file.flag("used", default=False)
    wanted, offered = _wanted(file.table("wants")), _offered(file.table("offered"))
    mains = _mains(file.table("mains"))
    file.done()
    return PowerDescription(wanted, offered, mains, used)


def _wanted(rows: Table) -> Wanted:
    found = Wanted(
        kind=_choice(rows, "kind", KINDS),
        volts=_positive(rows, "volts", "V"),
        lowest=_positive(rows, "lowest", "V"),
        highest=_positive(rows, "highest", "V"),
        current=_positive(rows, "current", "A"),
        polarity=_choice(rows, "polarity", POLARITIES),
        regulates=rows.flag("regulates", default=False) if "regulates" in rows else None,
        rectifies=rows.flag("rectifies", default=False),
        plug=rows.text("plug").strip() or None,
        fuse=rows.text("fuse").strip() or None,
    )
    rows.done(["regulates"])
    if found.lowest is not None and found.highest is not None and found.lowest > found.highest:
        raise rows.bad("lowest", found.lowest, f"at most highest, {found.highest:g} V", "Correct one of the two.")
    return found


def _offered(rows: Table) -> Offered:
    found = Offered(
        kind=_choice(rows, "kind", KINDS),
        volts=_positive(rows, "volts", "V"),
        current=_positive(rows, "current", "A"),
        polarity=_choice(rows, "polarity", POLARITIES),
        regulated=rows.flag("regulated", default=False) if "regulated" in rows else None,
        open_volts=_positive(rows, "open_volts", "V"),
        loaded_volts=_positive(rows, "loaded_volts", "V"),
        loaded_current=_positive(rows, "loaded_current", "A"),
        mains_volts=_span(rows),
        mains_hertz=_numbers(rows, "mains_hertz", "Hz"),
        plug=rows.text("plug").strip() or None,
    )
    rows.done(["regulated"])
    if (found.loaded_volts is None) != (found.loaded_current is None):
        raise rows.bad("loaded_volts", found.loaded_volts, "loaded_volts and loaded_current together", "Add the other.")
    if found.open_volts and found.loaded_volts and found.loaded_volts > found.open_volts:
        raise rows.bad("loaded_volts", found.loaded_volts, f"at most open_volts, {found.open_volts:g} V",
                       "Measure again: a load does not raise the voltage.")  # fmt: skip
    return found


def _mains(rows: Table) -> Mains:
    place = _choice(rows, "place", tuple(table("safety/mains")))
    volts, hertz = _positive(rows, "volts", "V"), _positive(rows, "hertz", "Hz")
    rows.done()
    if place is None:
        return Mains(volts, hertz=hertz)
    there = mains_at(place, hertz)
    return replace(there, volts=volts or there.volts)


def _choice(rows: Table, key: str, allowed: tuple[str, ...]) -> str | None:
    word = " ".join(rows.text(key).casefold().split())
    if word and word not in allowed:
        raise rows.bad(key, word, ", ".join(allowed), "Use one of these, or leave the key out if it is not known.")
    return word or None


def _positive(rows: Table, key: str, unit: str) -> float | None:
    value = rows.number(key, unit)
    if value is not None and value <= 0:
        raise rows.bad(key, value, f"a number above 0 {unit}", "Correct it; polarity has a key of its own.")
    return value


def _numbers(rows: Table, key: str, unit: str) -> tuple[float, ...] | None:
    raw = rows.take(key)
    if raw is None:
        return None
    listed = raw if isinstance(raw, list) else [raw]
    values = tuple(rows.quantity(key, one, unit) for one in listed)
    if not values or min(values) <= 0:
        raise rows.bad(key, raw, f"one or two numbers above 0 {unit}, as [50, 60]", "Correct it.")
    return values


def _span(rows: Table) -> tuple[float, float] | None:
    values = _numbers(rows, "mains_volts", "V")
    return None if values is None else (min(values), max(values))
