"""`kilter inspection`: the inspection of a mains appliance beside the limits of one edition."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.importers.appliance_description import read_appliance
from kilter.measure.measured import engineering
from kilter.safety.inspection import INCOMPLETE, Item, inspect

HELP = "an appliance inspection beside its limits"
DESCRIPTION = (
    "Puts what was seen and measured on a mains appliance beside the limits of the edition that the file names. What "
    "was not done stays open; the record never says that the appliance is safe."
)


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("appliance", metavar="FILE", type=Path, help="what was seen and measured (TOML)")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the record; exit code 3 where something was not done."""
    found = inspect(read_appliance(chosen.appliance))
    if chosen.json:
        print(as_json(asdict(found)))
    else:
        print(f"Inspection: {found.standing}.")
        print(columns((one.standing, one.words, _shown(one.value, one), _limit(one)) for one in found.items))
        print(heading("cautions"))
        for caution in found.cautions:
            print(wrapped(f"- {caution}", 2, 2))
    return 3 if found.standing == INCOMPLETE else 0


def _shown(value: float | None, one: Item) -> str:
    return "" if value is None else engineering(value, one.unit)


def _limit(one: Item) -> str:
    return "" if one.limit is None else f"limit {engineering(one.limit, one.unit)}"
