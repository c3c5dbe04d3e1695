"""`kilter recap`: a board's ageing capacitors with what would stand in for them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.exporters.recap_table import HEADS, recap_page, recap_rows
from kilter.exporters.spreadsheet import csv_bytes, workbook
from kilter.measure.errors import BadInput
from kilter.measure.measured import engineering
from kilter.services.recap_list import CAUTIONS, RecapList, recap_list
from kilter.wiring.loading import load_board

HELP = "ageing capacitors of a board, with replacement values and ratings"
DESCRIPTION = (
    "Lists the electrolytics and other capacitors that age, with the value and voltage they have, the worst voltage "
    "that is known there, and a replacement from the preferred values. It is no order to replace: measure first."
)
UNANSWERED = 3


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--csv", metavar="FILE", type=Path, help="write the list into this new CSV file")
    parser.add_argument("--xlsx", metavar="FILE", type=Path, help="write it into this new workbook")
    parser.add_argument("--page", metavar="FILE", type=Path, help="write a page to print, with room to write (HTML)")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the list; exit code 3 where a value or rating has to be read on the part first."""
    found = recap_list(load_board(chosen.board))
    if chosen.csv:
        _write(chosen.csv, csv_bytes(HEADS, recap_rows(found)))
    if chosen.xlsx:
        _write(chosen.xlsx, workbook("capacitors", HEADS, recap_rows(found)))
    if chosen.page:
        _write(chosen.page, recap_page(found).encode("utf-8"))
    print(as_json(found.plain()) if chosen.json else recap_text(found))
    if found.unsettled:
        print(f"Unanswered: read value and voltage on {', '.join(found.unsettled)}.", file=sys.stderr)
    return UNANSWERED if found.unsettled else 0


def _write(path: Path, data: bytes) -> None:
    try:
        with path.open("xb") as file:
            file.write(data)
    except OSError as error:
        raise BadInput("Cannot write the list of capacitors", f"'{path}': {error.strerror}",
                       "a new file that can be written", "Name another file.") from None  # fmt: skip
    print(f"Written: {path}", file=sys.stderr)


def recap_text(found: RecapList) -> str:
    """The list as text."""
    revision = f" (revision {found.revision})" if found.revision else ""
    parts = [f"{found.board}{revision}: {len(found.lines)} capacitors that age."]
    if not found.lines:
        return parts[0]
    rows = [("part", "kind", "says", "rated", "worst there", "plus side", "replacement")]
    for one in found.lines:
        new = f"{_farad(one.new_capacitance)} {_volt(one.new_volts)}"
        says = (_farad(one.capacitance), _volt(one.volts), _volt(one.held), one.plus or "?")
        rows.append((one.part, one.kind, *says, new))
    parts.append(columns(rows))
    parts.append(heading(f"pieces, {found.celsius:g} °C class preferred"))
    bought = [(f"{one['count']} ×", _farad(one["capacitance"]), f"{one['volts']:g} V", one["kind"])
              for one in found.to_buy()]  # fmt: skip
    parts.append(columns(bought) if bought else "  none yet")
    parts.append(heading("notes"))
    parts += [wrapped(f"{whom}: {note}.", 2, 4) for whom, note in (*found.advice().items(), *found.noted())]
    parts.append(heading("cautions"))
    return "\n".join([*parts, *(wrapped(f"- {words}", 2, 2) for words in CAUTIONS)])


def _farad(value: float | None) -> str:
    return "?" if value is None else engineering(value, "F", 2)


def _volt(value: float | None) -> str:
    return "?" if value is None else engineering(value, "V", 2)
