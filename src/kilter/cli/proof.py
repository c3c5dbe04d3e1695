"""`kilter proof`: the acceptance list of a repaired board, and what was read held against it."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kilter.circuit.board import Board
from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.measure.errors import BadInput, OutOfRange
from kilter.planning.numbers import number
from kilter.planning.proof.decide import OPEN, REJECTED
from kilter.services.acceptance_list import acceptance_list
from kilter.services.predict import hypothesis_of
from kilter.services.prove_repair import CAUTIONS, Proof, Proved, faults_of, limit_words, prove_repair
from kilter.services.wording import mode_words, percent, said
from kilter.simulate.chain import usual_chain
from kilter.simulate.circuit.fallback import Fallback
from kilter.simulate.reference.known_good import Key, known_good
from kilter.wiring.loading import load_board, load_readings

HELP = "what to read before a repair is accepted, and the verdict"
DESCRIPTION = (
    "Lists every point that the fault could have moved, every rail, clock and output, with limits; holds the readings "
    "taken since the repair against them by a rule with guard bands: accepted, rejected, or cannot tell with this "
    "instrument. What was not read stays open."
)
UNANSWERED = 3
SLIPS = 6
"""Faults listed by how likely the list is to let them through."""


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--readings", metavar="FILE", help="readings (CSV or TOML) or a visit file, with what was done")
    parser.add_argument("--fault", metavar="PART:MODE", action="append", default=[], help="what was found; repeat")
    parser.add_argument("--known-good", metavar="FILE", action="append", default=[],
                        help="readings of one known-good board; may be repeated")  # fmt: skip
    parser.add_argument("--also", metavar="POINT:QUANTITY", action="append", default=[],
                        help="read this too; ':STATE' may follow")  # fmt: skip
    parser.add_argument("--state", metavar="NAME", action="append", default=[],
                        help="read in this state; else in all where nothing is unplugged")  # fmt: skip
    parser.add_argument("--risk", metavar="SHARE", type=float, help="most chance of a wrong verdict on a point (0.05)")
    parser.add_argument("--page", metavar="FILE", type=Path, help="write the list to print (HTML)")
    parser.add_argument("--plot", metavar="DIR", type=Path, help="draw readings, limits and guard bands (SVG, PNG)")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the list with its verdicts; exit code 3 where something is open or cannot be told."""
    if chosen.plot:
        from kilter.wiring.figures import require_plotting

        require_plotting()
    board = load_board(chosen.board)
    readings = load_readings(chosen.readings, board) if chosen.readings else ()
    faults = faults_of(board, sorted(hypothesis_of(board, chosen.fault)), readings)
    boards = [load_readings(path, board) for path in chosen.known_good]
    also = [_asked_for(board, words) for words in chosen.also]
    risk = number("proof", "risk") if chosen.risk is None else chosen.risk
    if not 0 < risk < 0.5:
        raise OutOfRange("Cannot prove the repair", f"a risk of {risk:g}", "above 0, below 0.5",
                         "5 % is written 0.05.")  # fmt: skip
    with Fallback() as fallback:
        chain = usual_chain(board, fallback=fallback)
        items = acceptance_list(board, chain, faults, known_good(boards) if boards else None, also, chosen.state)
    found = prove_repair(board, items, faults, readings, risk)
    if chosen.page:
        _write_page(chosen.page, found)
    print(as_json(found.plain()) if chosen.json else _text(board, found))
    if chosen.plot:
        from kilter.wiring.proof_plots import draw_proof

        for path in draw_proof(found, chosen.plot):
            print(f"Drawn: {path}", file=sys.stderr)
    return _said_open(found)


def _said_open(found: Proof) -> int:
    told = [f"{words}" for words in found.not_whole]
    if not found.faults:
        told.append("no fault was named and no part renewed, so the list holds rails, clocks and outputs only")
    opens = found.count(OPEN)
    unsure = len(found.items) - opens - found.count("accepted") - found.count(REJECTED)
    told += [f"{opens} of {len(found.items)} points were not read"] if opens else []
    told += [f"{unsure} of {len(found.items)} points cannot be told"] if unsure else []
    for words in told:
        print(f"Unanswered: {words}", file=sys.stderr)
    return UNANSWERED if told else 0


def _asked_for(board: Board, words: str) -> Key:
    parts = [one.strip() for one in words.split(":")]
    powered = next((one.name for one in board.states.values() if one.powered), next(iter(board.states)))
    if len(parts) not in (2, 3) or not all(parts):
        raise BadInput("Cannot make an acceptance list", f"'{words}'", "POINT:QUANTITY or POINT:QUANTITY:STATE",
                       "Write it so, such as OUT:voltage.")  # fmt: skip
    return parts[0], parts[1], parts[2] if len(parts) == 3 else powered


def _write_page(path: Path, found: Proof) -> None:
    from kilter.exporters.acceptance_page import acceptance_page

    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(acceptance_page(found))
    except OSError as error:
        raise BadInput("Cannot write the acceptance list", f"'{path}': {error.strerror}",
                       "a new file that can be written", "Name another file with --page.") from None  # fmt: skip


def _text(board: Board, found: Proof) -> str:
    good, bad, unsure, left = (found.count(one) for one in ("accepted", REJECTED, "cannot tell", OPEN))
    parts = [f"{found.board}: {found.verdict} ({good} accepted, {bad} rejected, {unsure} cannot be told, {left} open)"]
    parts += [wrapped(f"! {words}", 2, 2) for words in found.not_whole]
    for state in dict.fromkeys(one.item.test.state for one in found.items):
        parts.append(heading(f"state '{state}'"))
        rows: list[tuple[str, ...]] = [("", "point", "quantity", "accepted", "limits from", "read", "verdict")]
        rows += [_row(one) for one in found.items if one.item.test.state == state]
        parts.append(columns(rows))
    doubts = [one for one in found.items if one.verdict == "cannot tell" or one.item.key in found.stale]
    if doubts:
        parts.append(heading("why not"))
        parts += [wrapped(f"- {one.item.test.point} {one.item.test.quantity}: {one.words}", 2, 2) for one in doubts]
    parts += _risks(board, found)
    parts.append(heading("cautions"))
    parts += [wrapped(f"- {words}", 2, 2) for words in CAUTIONS]
    return "\n".join(parts)


def _row(one: Proved) -> tuple[str, ...]:
    mark = "!" if one.verdict == REJECTED else "" if one.verdict == "accepted" else "?"
    read = said(one.reading) if one.reading else "-"
    test = one.item.test
    return mark, test.point, test.quantity, limit_words(one.item), one.item.source, read, one.verdict


def _risks(board: Board, found: Proof) -> list[str]:
    parts = [heading("risks")]
    parts.append(wrapped(f"A point is accepted only if it lies within its limits with at least "
                         f"{100 * (1 - found.risk):g} %, given the uncertainty of its reading. Of those accepted, "
                         f"{found.wrongly_accepted:.2g} are to be expected outside.", 2))  # fmt: skip
    worst = sorted(found.slips.items(), key=lambda one: -one[1])[:SLIPS]
    for fault, chance in worst:
        what = f"{fault[0]} {mode_words(board, fault)}"
        if chance > 0.5:
            parts.append(wrapped(f"- {what}: nothing accepted so far would tell it from a healthy board.", 2, 2))
        else:
            parts.append(wrapped(f"- {what}: were it still so, what was accepted would read as it did with "
                                 f"{percent(chance)} at most.", 2, 2))  # fmt: skip
    if len(found.slips) > SLIPS:
        parts.append(wrapped(f"and {len(found.slips) - SLIPS} more modes, all less likely to slip through", 4))
    return parts
