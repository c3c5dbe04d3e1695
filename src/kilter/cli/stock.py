"""`kilter stock`: look through a stock list before it is used."""

from __future__ import annotations

import argparse
import sys
from dataclasses import asdict
from pathlib import Path

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.exporters.stock_table import stock_table
from kilter.importers.stock_table import read_stock
from kilter.measure.errors import BadInput
from kilter.services.import_stock import stock_report

HELP = "look through a stock list: what can be used, and which rows cannot"
DESCRIPTION = (
    "Reads stock lists (CSV or .xlsx), counts the pieces of every part with the chance that they are good, and names "
    "every row that cannot be used. Nothing is written unless asked for."
)
UNANSWERED = 3


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("lists", metavar="LIST", nargs="+", type=Path, help="stock list: CSV or .xlsx")
    parser.add_argument(
        "--write", metavar="FILE", type=Path, help="write the rows that can be used into a new CSV file"
    )
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints what the lists hold; exit code 3 where rows were left out."""
    tables = [(path, read_stock(path)) for path in chosen.lists]
    report = stock_report([lot for _, one in tables for lot in one.lots])
    problems = [(path.name, one) for path, table in tables for one in table.problems]
    if chosen.write:
        _write(chosen.write, stock_table(report.lots))
    if chosen.json:
        print(as_json({
            "lots": [asdict(lot) for lot in report.lots],
            "parts": [{"part": part, "count": count, "likely_good": good} for part, count, good in report.pieces],
            "left_out": [{"file": name} | asdict(one) for name, one in problems],
            "condition_not_known": report.doubtful,
        }))  # fmt: skip
    else:
        print(f"{len(report.lots)} lots, {sum(lot.count for lot in report.lots)} pieces of {len(report.pieces)} parts.")
        print(heading("pieces"))
        rows = [(part, f"{count}", f"likely good {good:.1f}") for part, count, good in report.pieces]
        print(columns(rows) if rows else "  none")
        if report.doubtful:
            print(wrapped(f"Of {report.doubtful} pieces nobody wrote down the condition; they count as worn.", 2))
        if problems:
            print(heading("rows that were left out"))
        for name, one in problems:
            print(wrapped(f"{name} {one.place}: {one.found}. Allowed: {one.allowed}.", 2, 2))
    if problems:
        print(f"Unanswered: {len(problems)} row{'s' if len(problems) > 1 else ''} could not be used.", file=sys.stderr)
    return UNANSWERED if problems else 0


def _write(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise BadInput("Cannot write the stock list", f"'{path}': {error.strerror}", "a new file that can be written",
                       "Name another file with --write.") from None  # fmt: skip
