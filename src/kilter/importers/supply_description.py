"""Supply files: transformer, rectifier, reservoir, load, regulator, fuse and mains; see docs/supply.md."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kilter.importers.toml_tables import Table, read_toml
from kilter.measure.tables import table
from kilter.services.check_adaptor import mains_at
from kilter.services.work_out_supply import SupplyDesign


def read_supply(path: Path) -> SupplyDesign:
    """
    The supply in a file.

    Raises:
        BadInput: Not readable, a key unknown or missing, or a number that cannot be.
    """
    file = read_toml(path, "the supply")
    winding, diodes, reservoir = file.table("transformer"), file.table("rectifier"), file.table("reservoir")
    load, regulator, fuse, place = (file.table(key) for key in ("load", "regulator", "fuse", "mains"))
    where = place.needed_text("place")
    if where not in table("safety/mains"):
        raise place.bad("place", where, ", ".join(table("safety/mains")), "Use one of these.")
    mains = mains_at(where, _positive(place, "hertz", "Hz"))
    farads, tolerance = _needed(reservoir, "capacitance", "F"), reservoir.share("lowest_share", 0.8) or 0.8
    design = SupplyDesign(
        secondary=_needed(winding, "secondary", "V"), current_rated=_needed(winding, "current", "A"),
        regulation=winding.share("regulation", 0.15) or 0.0, rated_mains=_needed(winding, "rated_mains", "V"),
        resistance=winding.number("added_resistance", "ohm", 0.0) or 0.0, farads=farads, farads_low=farads * tolerance,
        load=_needed(load, "current", "A"), mains=replace(mains, volts=_positive(place, "volts", "V") or mains.volts),
        full_wave=diodes.flag("full_wave", default=True), drop=diodes.number("drop", "V", 1.6) or 0.0,
        reservoir_volts=_positive(reservoir, "rated", "V"), esr=_positive(reservoir, "esr", "ohm"),
        bleeder=_positive(reservoir, "bleeder", "ohm"),
        output=_positive(regulator, "output", "V"), dropout=_positive(regulator, "dropout", "V"),
        thermal_resistance=_positive(regulator, "thermal_resistance", ""),
        ambient=regulator.number("ambient", "", 40.0) or 0.0,
        junction_most=regulator.number("junction", "", 125.0) or 0.0,
        fuse=_positive(fuse, "rated", "A"), fuse_melting=_positive(fuse, "melting", ""),
        switch_ons=_positive(fuse, "switch_ons", "") or 10_000.0,
    )  # fmt: skip
    for one in (winding, diodes, reservoir, load, regulator, fuse, place, file):
        one.done()
    return design


def _positive(rows: Table, key: str, unit: str) -> float | None:
    value = rows.number(key, unit)
    if value is not None and value <= 0:
        raise rows.bad(key, value, f"a number above 0 {unit}".strip(), "Correct it, or leave it out if not known.")
    return value


def _needed(rows: Table, key: str, unit: str) -> float:
    value = _positive(rows, key, unit)
    if value is None:
        raise rows.bad(key, None, f"a number for '{key}' [{unit}]", f"Add {key} to {rows.place}.")
    return value
