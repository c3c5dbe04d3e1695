"""`kilter adaptor`: whether an adaptor suits an object, and what a wrong one may have done."""

from __future__ import annotations

import argparse
from pathlib import Path

from kilter.cli.layout import as_json, heading, wrapped
from kilter.importers.power_description import read_power
from kilter.safety.adaptor import VERDICTS
from kilter.services.check_adaptor import CAUTIONS, AdaptorReport, report
from kilter.wiring.loading import load_board

HELP = "whether an adaptor suits an object"
DESCRIPTION = (
    "Compares what an object wants of its supply with what an adaptor offers on the mains at hand: refused, only with "
    "conditions, or nothing found against it. What is not known is never let through."
)
SHOWN = 12
"""Exposed modes that are listed."""


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("pair", metavar="FILE", type=Path, help="what is wanted and what is offered (TOML)")
    parser.add_argument("--board", metavar="BOARD", help="whose parts were exposed, if the adaptor was used already")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the verdict; exit code 0 whatever it is, since a refusal is an answer."""
    pair = read_power(chosen.pair)
    board = load_board(chosen.board) if chosen.board else None
    found = report(pair.wanted, pair.offered, pair.mains, used=pair.used, board=board)
    if chosen.json:
        print(as_json(found.plain()))
    else:
        _print(found)
    return 0


def _print(found: AdaptorReport) -> None:
    print(f"Verdict: {found.verdict.verdict}.")
    for level in reversed(VERDICTS):
        if any(one.level == level for one in found.verdict.findings):
            print(heading(level))
        for one in found.verdict.findings:
            if one.level == level:
                print(wrapped(f"- {one.rule.replace('_', ' ')}: {one.words}.", 2, 2))
                if one.do_next:
                    print(wrapped(one.do_next, 4))
    if found.saw:
        print(heading("it was used already: the object saw"))
        for words in found.saw:
            print(wrapped(f"- {words}", 2, 2))
        for exposed in found.exposed[:SHOWN]:
            print(wrapped(f"{exposed.part} {exposed.mode}: likelier", 4))
        if len(found.exposed) > SHOWN:
            print(
                wrapped(f"and {len(found.exposed) - SHOWN} more; --json lists them for 'kilter diagnose --evidence'", 4)
            )
    print(heading("cautions"))
    for caution in CAUTIONS:
        print(wrapped(f"- {caution}", 2, 2))
