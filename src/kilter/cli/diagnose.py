"""`kilter diagnose`: from a board and readings to suspects and the next test."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

from kilter.circuit.board import Board
from kilter.cli.diagnosis_text import diagnosis_text
from kilter.cli.layout import as_json, heading, wrapped
from kilter.diagnose.cost import Effort
from kilter.diagnose.enumerate import Limits, quick_limits
from kilter.diagnose.learned_odds import learned_odds
from kilter.importers.part_evidence import read_part_evidence
from kilter.measure.errors import BadInput, OutOfRange
from kilter.measure.instruments import instrument
from kilter.services.answer import answer, powered_tests_withheld, unanswered
from kilter.services.learn_times import effort_of
from kilter.services.other_evidence import applicable
from kilter.services.track_record import TrackRecord, track_record
from kilter.simulate.reference import known_good
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.experience_file import ExperienceFile
from kilter.wiring.loading import load_board, load_readings

HELP = "suspects, why, and the next test"
DESCRIPTION = (
    "Weighs every fault the board can have against the readings, names suspects with their reasons, and says which "
    "test to do next or what to repair."
)
MOST_FAULTS, SHOWN = 5, 3


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--readings", required=True, metavar="FILE", help="readings (CSV or TOML) or a visit file")
    parser.add_argument("--json", action="store_true", help="print the machine interface instead of text")
    parser.add_argument("--plot", metavar="DIR", type=Path, help="also draw SVG and PNG pictures into this folder")
    parser.add_argument("--instruments", metavar="LIST", default="", help="what is at hand, such as dmm,scope")
    parser.add_argument(
        "--power-checks-passed", action="store_true", help="the checks before switching on were passed on this object"
    )
    parser.add_argument(
        "--works",
        action="store_true",
        help="nobody saw the object fail; unless said it is taken to have come in not working",
    )
    parser.add_argument(
        "--known-good",
        metavar="FILE",
        action="append",
        default=[],
        help="readings of a known-good board; may be repeated",
    )
    parser.add_argument(
        "--evidence",
        metavar="FILE",
        action="append",
        default=[],
        help="what 'kilter memory --bank ... --json' printed about parts; may be repeated",
    )
    parser.add_argument("--experience", metavar="FILE", type=Path, help="experience file; see 'kilter learn'")
    parser.add_argument("--age", metavar="YEARS", type=float, help="age of the object, for odds learned by age")
    parser.add_argument("--faults", metavar="N", type=int, help="most faults at once; 3 unless said")
    parser.add_argument("--thorough", action="store_true", help="visit more sets of faults; slower")


def run(chosen: argparse.Namespace) -> int:
    """Diagnoses and prints."""
    if chosen.plot:
        from kilter.wiring.figures import require_plotting
        from kilter.wiring.plots import draw

        require_plotting()
    board = load_board(chosen.board)
    readings = load_readings(chosen.readings, board)
    at_hand = instruments_named(chosen.instruments)
    limits = limits_of(board, chosen.faults, thorough=chosen.thorough)
    boards = [load_readings(path, board) for path in chosen.known_good]
    evidence, unused = applicable(board, read_part_evidence(chosen.evidence))
    if unused:
        listed = ", ".join(f"{part}:{mode}" for part, mode in unused)
        print(f"Not used, as the board's parts do not have these modes: {listed}.", file=sys.stderr)
    odds, effort, record = experienced(board, chosen.experience, chosen.age)
    with diagnoser(
        board,
        odds=odds,
        effort=effort,
        at_hand=at_hand,
        power_checks=chosen.power_checks_passed,
        limits=limits,
        not_working=not chosen.works,
        evidence=evidence,
        reference=known_good(boards) if boards else None,
    ) as weigher:
        diagnosis = weigher.diagnose(readings)
        withheld = powered_tests_withheld(diagnosis, power_checks=chosen.power_checks_passed)
        called = {one.part: one.probability for one in diagnosis.suspects}
        if chosen.json:
            told = {"track_record": record.plain(called)} if record else {}
            print(as_json({**answer(diagnosis), **told}))
        else:
            print(diagnosis_text(diagnosis, withheld=withheld))
            if record:
                print(heading("track record"), *(wrapped(line, 2) for line in record.lines(called, SHOWN)), sep="\n")
        if chosen.plot:
            for path in draw(weigher, diagnosis, chosen.plot):
                print(f"Drawn: {path}", file=sys.stderr)
    return report_unanswered(unanswered(diagnosis))


def experienced(
    board: Board, path: Path | None, years: float | None
) -> tuple[dict[tuple[str, str], float], Effort, TrackRecord | None]:
    """What an experience file says: odds of the board's faults, what work takes, and how calls came true."""
    if path is None:
        if years is not None:
            raise BadInput(
                "Cannot use an age", f"{years:g} years without an experience file", "--age with --experience",
                "Name the file that 'kilter learn' keeps, or leave the age out.",
            )  # fmt: skip
        return {}, Effort(), None
    if not path.is_file():
        raise BadInput(
            "Cannot use experience", f"no file {path}", "an experience file", "Make one with 'kilter learn'."
        )
    experience = ExperienceFile(path).read()
    odds = learned_odds(board, experience.weighted(), years)
    return odds, effort_of(experience.times()), track_record(experience.calls())


def instruments_named(words: str) -> tuple[str, ...]:
    """Keys of the instruments in a list with commas."""
    return tuple(instrument(word.strip()).key for word in words.split(",") if word.strip())


def limits_of(board: Board, faults: int | None, *, thorough: bool) -> Limits:
    """How far to search: on a board with a circuit less far, unless a thorough search is wanted."""
    usual = quick_limits() if board.elements and not thorough else Limits()
    if faults is not None and not 1 <= faults <= MOST_FAULTS:
        raise OutOfRange(
            "Cannot set how far to search", f"{faults} faults at once", f"1 to {MOST_FAULTS}", "Choose such a number."
        )
    return replace(usual, max_faults=faults or usual.max_faults)


def report_unanswered(found: tuple[str, ...]) -> int:
    """Says what stays open on stderr; the exit code."""
    for words in found:
        print(f"Unanswered: {words}", file=sys.stderr)
    return 3 if found else 0
