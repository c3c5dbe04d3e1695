"""`kilter predict`: what every point would read with given faults, beside healthy."""

from __future__ import annotations

import argparse
from typing import Any

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.services.predict import Expectation, Predicted, hypothesis_of, predict
from kilter.simulate.chain import usual_chain
from kilter.simulate.circuit.fallback import Fallback
from kilter.wiring.loading import load_board

HELP = "what every point would read with given faults"
DESCRIPTION = (
    "Predicts the readings of every point, with the faults named and without. A band holds two standard deviations "
    "over the tolerances of healthy parts; the meter's own uncertainty is not in it."
)


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--fault", metavar="PART:MODE", action="append", default=[], help="repeat for several")
    parser.add_argument("--state", metavar="NAME", action="append", default=[], help="only this state; may be repeated")
    parser.add_argument("--point", metavar="NAME", action="append", default=[], help="only this point; may be repeated")
    parser.add_argument("--changed", action="store_true", help="only readings that the faults move well off")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Predicts and prints."""
    board = load_board(chosen.board)
    faults = hypothesis_of(board, chosen.fault)
    unknown = [name for name in chosen.point if name not in board.points]
    if unknown:
        raise BadInput("Cannot predict readings", f"the point '{unknown[0]}'", ", ".join(board.points),
                       "Use a point of this board.")  # fmt: skip
    with Fallback() as fallback:
        chain = usual_chain(board, fallback=fallback)
        found = predict(board, chain, faults, chosen.state, chosen.point)
    found = tuple(one for one in found if one.differs or not chosen.changed)
    if chosen.json:
        named = [{"part": part, "mode": mode} for part, mode in sorted(faults)]
        print(as_json({"faults": named, "readings": [_plain(one) for one in found]}))
    else:
        _print(found, " and ".join(f"{part} {mode}" for part, mode in sorted(faults)))
    return 0


def _print(found: tuple[Predicted, ...], faults: str) -> None:
    if not found:
        print("No reading to show.")
        return
    for state in dict.fromkeys(one.test.state for one in found):
        print(heading(f"state '{state}'"))
        rows = [("", "point", "quantity", "healthy", faults)]
        rows += [
            ("*" if one.differs else "", one.test.point, one.test.quantity, one.healthy.text, one.faulty.text)
            for one in found
            if one.test.state == state
        ]
        print(columns(rows if faults else [row[1:4] for row in rows]))
    mark = "* well apart from healthy. " if faults else ""
    print()
    print(wrapped(f"{mark}'anything': not predicted, so a reading there tells nothing."))


def _plain(one: Predicted) -> dict[str, Any]:
    return {
        "point": one.test.point,
        "quantity": one.test.quantity,
        "state": one.test.state,
        "unit": quantity(one.test.quantity).unit,
        "healthy": _expectation(one.healthy),
        "predicted": _expectation(one.faulty),
        "differs": one.differs,
    }


def _expectation(one: Expectation) -> dict[str, Any]:
    numbers = {"mean": one.mean, "low": one.low, "high": one.high} if not one.words else {"words": one.words}
    return {"text": one.text, "unknown": one.unknown, **numbers}
