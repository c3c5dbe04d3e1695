"""`kilter compare`: an object beside known-good boards of its type, with no need of a schematic."""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path
from typing import Any

from kilter.circuit.board import Board
from kilter.cli.diagnosis_text import diagnosis_text
from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.measure.quantities import quantity
from kilter.services.answer import answer, powered_tests_withheld, unanswered
from kilter.services.compare_known_good import MARKED, NOT_READ, Comparison, Row, compare_known_good, interval_words
from kilter.services.wording import said
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board, load_readings

HELP = "an object beside known-good boards of its type"
DESCRIPTION = (
    "Compares readings of an object with the same readings of known-good boards: the interval in which a healthy board "
    "reads 95 times in 100, from few boards by Student's t, and what lies outside. A board with points and parts is "
    "enough; no schematic is needed."
)


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--readings", required=True, metavar="FILE", help="readings of the object, or a visit file")
    parser.add_argument(
        "--known-good",
        required=True,
        metavar="FILE",
        action="append",
        help="readings of one such board; may be repeated",
    )
    parser.add_argument(
        "--suspects", action="store_true", help="also weigh faults, with the known-good boards behind it"
    )
    parser.add_argument("--works", action="store_true", help="nobody saw the object fail, for --suspects")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")
    parser.add_argument("--plot", metavar="DIR", type=Path, help="also draw an SVG and a PNG picture into this folder")


def run(chosen: argparse.Namespace) -> int:
    """Compares and prints; exit code 3 where something of the known-good boards was not read on the object."""
    if chosen.plot:
        from kilter.wiring.figures import require_plotting

        require_plotting()
    board = load_board(chosen.board)
    readings = load_readings(chosen.readings, board)
    found = compare_known_good(readings, [load_readings(path, board) for path in chosen.known_good])
    plain: dict[str, Any] = {"rows": [_plain(row) for row in found.rows], "by_chance": found.by_chance}
    if not chosen.json:
        _print(board, found, len(chosen.known_good))
    open_questions = tuple(_not_read(found))
    if chosen.suspects:
        with diagnoser(board, reference=found.known, not_working=not chosen.works) as weigher:
            diagnosis = weigher.diagnose(readings)
        plain["diagnosis"] = answer(diagnosis)
        open_questions += unanswered(diagnosis)
        if not chosen.json:
            print(diagnosis_text(diagnosis, withheld=powered_tests_withheld(diagnosis, power_checks=False)))
    if chosen.json:
        print(as_json(plain))
    if chosen.plot:
        from kilter.wiring.known_good_plots import draw_comparison

        for path in draw_comparison(found, board.name, chosen.plot):
            print(f"Drawn: {path}", file=sys.stderr)
    for words in open_questions:
        print(f"Unanswered: {words}", file=sys.stderr)
    return 3 if open_questions else 0


def _not_read(found: Comparison) -> list[str]:
    count = sum(row.verdict == NOT_READ for row in found.rows)
    return [f"{count} readings of the known-good boards were not taken on this object"] if count else []


def _print(board: Board, found: Comparison, boards: int) -> None:
    print(f"{board.name}: {len(found.rows)} readings beside {boards} known-good board{'s' if boards > 1 else ''}")
    for state in dict.fromkeys(row.key[2] for row in found.rows):
        print(heading(f"state '{state}'"))
        rows = [("", "point", "quantity", "this object", "healthy, 95 %", "boards", "verdict")]
        rows += [
            ("*" if row.verdict in MARKED else "", *row.key[:2], said(row.reading) if row.reading else "-",
             interval_words(row), str(row.boards), row.verdict)
            for row in found.rows if row.key[2] == state
        ]  # fmt: skip
        print(columns(rows))
    marked = sum(row.verdict in MARKED for row in found.rows)
    print()
    print(wrapped(
        f"{marked} marked *; of as many readings of a healthy object about {found.by_chance:.1f} would be marked by "
        "chance. A reading like known-good does not say that the parts there are good: it says that this test did not "
        "tell them apart."
    ))  # fmt: skip


def _plain(row: Row) -> dict[str, Any]:
    point, key, state = row.key
    read = row.reading
    return {
        "point": point, "quantity": key, "state": state, "unit": quantity(key).unit,
        "value": read.value if read else None, "uncertainty": read.uncertainty if read else None,
        "word": read.word if read else "", "known_good": list(row.good), "low": row.low, "high": row.high,
        "words": row.words, "boards": row.boards, "ratio": None if math.isnan(row.ratio) else row.ratio,
        "verdict": row.verdict,
    }  # fmt: skip
