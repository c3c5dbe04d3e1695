"""`kilter checklist`: what every pin of a processor should show after power-up, in the order in which to look."""

from __future__ import annotations

import argparse

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.measure.tables import table
from kilter.services.pin_checklist import Checklist, PinCheck, pin_checklists
from kilter.wiring.loading import load_board

HELP = "what the pins of a processor should show after power-up"
DESCRIPTION = (
    "Lists the pins of a processor in the order in which to look: supply, ground, clock, reset, lines that make it "
    "wait, interrupts, strobes, address, data. With what each should show on this board and what a wrong one points to."
)
MOST = 6
"""Pins beside that are named; more would hide the ones that matter."""


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--part", metavar="REF", action="append", default=[], help="this chip; may be repeated")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the lists; exit code 3 where the logic could not tell some connected signal pin."""
    found = pin_checklists(load_board(chosen.board), chosen.part)
    if chosen.json:
        print(as_json({"checklists": [one.plain() for one in found]}))
    else:
        for one in found:
            _print(one)
    return 3 if any(_untold(check) for one in found for check in one.checks) else 0


def _untold(check: PinCheck) -> bool:
    return bool(check.net) and not check.word and check.expect.startswith("not known")


def _print(found: Checklist) -> None:
    print(f"{found.part}, {found.type}: {found.words}, in state '{found.state}'")
    for caution in found.cautions:
        print(wrapped(f"- {caution}", 0, 2))
    for group in table("logic/checklist")["group"]:
        checks = [check for check in found.checks if check.group == group["key"]]
        if not checks:
            continue
        print(heading(group["words"]))
        rows = [("", "pin", "name", "net", "should show", "comes from", "also on it")]
        rows += [("[ ]", c.pin, c.name, c.net, c.expect, _some(c.behind), _some(c.beside)) for c in checks]
        print(columns(rows))
        print(wrapped(f"Wrong: {group['wrong']}.", 2, 2))


def _some(places: tuple[str, ...]) -> str:
    more = len(places) - MOST
    return " ".join(places[:MOST]) + (f" and {more} more" if more > 0 else "")
