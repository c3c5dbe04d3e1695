"""`kilter supply`: ripple, heat, inrush and stored charge of a mains supply."""

from __future__ import annotations

import argparse
import sys
from dataclasses import asdict
from pathlib import Path

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.importers.supply_description import read_supply
from kilter.services.work_out_supply import BEYOND, CAUTIONS, OPEN, SupplyReport, work_out

HELP = "ripple, heat, inrush and stored charge of a mains supply"
DESCRIPTION = (
    "Works a transformer, rectifier, reservoir and regulator out over the tolerance of the mains. Where a rule of "
    "thumb is only a bound, both it and the figure from steps through time are shown."
)


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("supply", metavar="FILE", type=Path, help="the supply (TOML)")
    parser.add_argument("--plot", metavar="DIR", type=Path, help="also draw the ripple over one period")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the figures; exit code 3 where a limit is not known."""
    design = read_supply(chosen.supply)
    found = work_out(design)
    if chosen.json:
        print(as_json({"figures": [asdict(one) for one in found.figures], "cautions": list(CAUTIONS)}))
    else:
        _print(found)
    if chosen.plot:
        from kilter.wiring.supply_plots import draw_ripple

        needed = None if design.output is None or design.dropout is None else design.output + design.dropout
        for path in draw_ripple(found.supplies, needed, chosen.plot):
            print(f"Drawn: {path}", file=sys.stderr)
    return 3 if any(one.verdict == OPEN for one in found.figures) else 0


def _print(found: SupplyReport) -> None:
    rows = [("", "figure", "by rule of thumb", "limit", "")]
    rows += [(_number(one.value, one.unit), one.key.replace("_", " "), _number(one.bound, one.unit),
              _number(one.limit, one.unit), one.verdict) for one in found.figures]  # fmt: skip
    print(columns(rows, indent=0))
    for words, verdict in (("beyond its limit", BEYOND), ("not known", OPEN)):
        here = [one for one in found.figures if one.verdict == verdict]
        if here:
            print(heading(words))
        for one in here:
            print(wrapped(f"- {one.words}", 2, 2))
    print(heading("cautions"))
    for caution in CAUTIONS:
        print(wrapped(f"- {caution}", 2, 2))


def _number(value: float | None, unit: str) -> str:
    return "" if value is None else "?" if value != value else f"{value:.3g} {unit}"
