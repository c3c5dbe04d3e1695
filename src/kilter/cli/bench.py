"""`kilter bench`: a guided session at the bench, one test after another."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from pathlib import Path

from kilter.cli.bench_dialogue import Dialogue
from kilter.cli.diagnose import experienced, instruments_named
from kilter.services.bench import BenchSession
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board
from kilter.wiring.visit_file import VisitFile

HELP = "a guided session: one test after another"
DESCRIPTION = (
    "Shows the next test, takes the answer, weighs it and goes on. Every entry is appended to the visit file at once; "
    "nothing is ever deleted. Start it again on the same file to go on."
)


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--visit", required=True, metavar="FILE", type=Path, help="visit file (.toml); made if new")
    parser.add_argument("--who", metavar="NAME", default="", help="who is at the bench; recorded with every entry")
    parser.add_argument("--instruments", metavar="LIST", default="", help="what is at hand, such as dmm,scope")
    parser.add_argument("--works", action="store_true", help="nobody saw the object fail")
    parser.add_argument("--experience", metavar="FILE", type=Path, help="experience file; see 'kilter learn'")
    parser.add_argument("--age", metavar="YEARS", type=float, help="age of the object, for odds learned by age")


def run(chosen: argparse.Namespace) -> int:
    """Holds the session; exit code 0 when it was left, whatever the object's state."""
    board = load_board(chosen.board)
    file = VisitFile(chosen.visit, board)
    log = file.entries()
    at_hand = instruments_named(chosen.instruments)
    odds, effort, _ = experienced(board, chosen.experience, chosen.age)
    with diagnoser(board, at_hand=at_hand, not_working=not chosen.works, odds=odds, effort=effort) as weigher:
        session = BenchSession(weigher, log, file.understand, file.keep_all, _now, chosen.who)
        dialogue = Dialogue(session, sys.stdin, sys.stdout)
        try:
            dialogue.hold()
        except KeyboardInterrupt:
            print("\nInterrupted.")
        print(f"{len(session.log.entries)} entries are in {chosen.visit}; start again with it to go on.")
    return 0


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
