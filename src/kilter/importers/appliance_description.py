"""Appliance files: what an inspection found, as TOML; see docs/hazards.md for their form."""

from __future__ import annotations

from pathlib import Path

from kilter.importers.toml_tables import Table, read_toml
from kilter.measure.tables import table
from kilter.safety.inspection import Appliance

CLASSES = ("I", "II", "III")


def read_appliance(path: Path) -> Appliance:
    """
    The inspection in a file.

    Raises:
        BadInput: Not readable, a key unknown or missing, or a number that cannot be.
    """
    file = read_toml(path, "the inspection")
    data = table("safety/inspection")
    protection, edition = file.needed_text("class"), file.needed_text("edition")
    if protection not in CLASSES:
        raise file.bad("class", protection, ", ".join(CLASSES), "Write the class of protection as marked.")
    if edition not in data["editions"]:
        raise file.bad("edition", edition, ", ".join(data["editions"]), "Use the edition in force at your place.")
    seen = file.table("seen")
    checks = {row["key"]: seen.flag(row["key"], default=False) for row in data["visual"] if row["key"] in seen}
    found = Appliance(
        protection, edition, file.flag("hand_held", default=False), _number(file, "earth", "ohm"),
        _number(file, "lead_length", ""), _number(file, "lead_section", ""), _number(file, "insulation", "ohm"),
        _number(file, "test_volts", "V"), _number(file, "leakage", "A"), checks,
    )  # fmt: skip
    seen.done()
    file.done()
    return found


def _number(file: Table, key: str, unit: str) -> float | None:
    value = file.number(key, unit)
    if value is not None and value < 0:
        raise file.bad(key, value, f"a number of 0 {unit} or more".replace("  ", " "), "Leave it out if not measured.")
    return value
