"""`kilter check`: look a board over before anything is predicted from it."""

from __future__ import annotations

import argparse

from kilter.circuit.check import check_board
from kilter.circuit.finding import DOUBT, NOTE, WRONG
from kilter.cli.layout import as_json, wrapped
from kilter.parts.kinds import modes_of
from kilter.wiring.loading import load_board

HELP = "look a board file over"
DESCRIPTION = (
    "Reads a board and lists what is missing, what hangs in the air and what was guessed. Nothing found does not say "
    "that the board file is right."
)
MEANING = {WRONG: "predictions cannot be relied on", DOUBT: "predictions may be off", NOTE: "guessed or worth knowing"}


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Checks and prints; exit code 3 where something is wrong."""
    board = load_board(chosen.board)
    findings = check_board(board, modes_of)
    counts = {"parts": len(board.parts), "elements": len(board.elements), "points": len(board.points),
              "blocks": len(board.blocks), "states": len(board.states)}  # fmt: skip
    if chosen.json:
        told = [{"level": one.level, "subject": one.subject, "words": one.words} for one in findings]
        print(as_json({"board": board.name, "revision": board.revision, **counts, "findings": told}))
    else:
        print(f"{board.name}: " + ", ".join(f"{count} {what}" for what, count in counts.items()) + ".")
        for level, meaning in MEANING.items():
            here = [one for one in findings if one.level == level]
            if here:
                print(f"\n{level.upper()} ({len(here)}): {meaning}")
            for one in here:
                print(wrapped(f"{one.subject}: {one.words}", 2, 2))
        if not findings:
            print("Nothing was found to remark on; that does not say that it is right.")
    return 3 if any(one.level == WRONG for one in findings) else 0
