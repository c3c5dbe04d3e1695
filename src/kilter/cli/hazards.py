"""`kilter hazards`: what about an object can hurt, and at which step."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from kilter.cli.layout import as_json, heading, wrapped
from kilter.safety.hazards import chassis_in_doubt, hazards
from kilter.wiring.loading import load_board

HELP = "what about an object can hurt, and when"
DESCRIPTION = (
    "Lists hazards that follow from the kinds of object, the parts, the voltages and the words of a board file, with "
    "cautions for the step at which they matter."
)
NOT_ALL = (
    "Only what the board file says was looked at. A hazard that is not listed may be there all the same; the rules of "
    "your house and of your country, and people trained for the work, come first."
)
STEPS = {
    "any": "at every step",
    "powered": "with power on",
    "unpowered": "after switching off",
    "repair": "at repair",
    "storage": "in storage",
}


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the hazards by step."""
    board = load_board(chosen.board)
    found = hazards(board)
    if chosen.json:
        print(as_json({"hazards": [asdict(one) for one in found], "chassis_in_doubt": chassis_in_doubt(board),
                       "cautions": [NOT_ALL]}))  # fmt: skip
        return 0
    print(wrapped(NOT_ALL))
    if not board.kinds:
        print()
        print(wrapped("The board file does not say what kind of object this is ([object] kinds)."))
    for step, words in STEPS.items():
        here = [one for one in found if one.at == step]
        if here:
            print(heading(words))
        for one in here:
            print(wrapped(f"{one.title} ({'; '.join(one.because[:4])}{'; ...' if len(one.because) > 4 else ''})", 2, 2))
            for caution in one.cautions:
                print(wrapped(f"- {caution}", 4, 2))
    return 0
