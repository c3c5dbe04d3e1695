"""`kilter demo`: the whole job on the object that comes with Kilter, told in a few words."""

from __future__ import annotations

import argparse
from pathlib import Path

from kilter.cli.layout import as_json, bar, heading, wrapped
from kilter.measure.errors import BadInput
from kilter.services.answer import answer
from kilter.services.diagnose import Diagnosis
from kilter.services.wording import asked, kind_words, mode_words, percent, said
from kilter.wiring.demo import VISITS, DemoVisit, copy_demo, demo_folder
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board, load_readings

HELP = "the whole job on an invented object"
DESCRIPTION = (
    "Diagnoses three visits to an invented teaching computer of about 1983 whose readings were simulated with faults "
    "built in, and tells what comes out. --copy puts the files where you can try the other commands on them."
)
SHOWN, REASONS = 3, 2


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("--visit", metavar="KEY", choices=[one.key for one in VISITS], help="only a, b or c")
    parser.add_argument("--copy", metavar="DIR", type=Path, help="only copy the boards and readings into this folder")
    parser.add_argument("--json", action="store_true", help="print the machine interface of every stage")


def run(chosen: argparse.Namespace) -> int:
    """Tells the visits, or copies their files."""
    if chosen.copy:
        return _copy(chosen.copy)
    visits = [one for one in VISITS if chosen.visit in (None, one.key)]
    if chosen.json:
        print(as_json({one.key: [answer(found) for found in _diagnoses(one)] for one in visits}))
        return 0
    for visit in visits:
        print(heading(f"visit {visit.key}: {visit.title}"))
        for stage, diagnosis in zip(visit.stages, _diagnoses(visit), strict=True):
            print(wrapped(stage.story))
            print("\n".join(_told(diagnosis)))
    print(wrapped("The readings were simulated, so what was built in is known: tests/demo/truth.toml has it."))
    print(wrapped("Next: 'kilter demo --copy my-demo', then 'kilter diagnose my-demo --readings my-demo/a.csv'."))
    return 0


def _copy(target: Path) -> int:
    try:
        copied = copy_demo(target)
    except OSError as error:
        raise BadInput("Cannot copy the demonstration", f"'{target}': {error.strerror}", "a folder that can be written",
                       "Name another folder.") from None  # fmt: skip
    print(f"{len(copied)} files copied to {target}.")
    return 0


def _diagnoses(visit: DemoVisit) -> list[Diagnosis]:
    """The diagnosis at every stage; predictions are remembered from one to the next."""
    with demo_folder() as folder:
        board = load_board(folder / visit.board)
        readings = [load_readings(folder / stage.readings, board) for stage in visit.stages]
    with diagnoser(board) as weigher:
        return [weigher.diagnose(one) for one in readings]


def _told(diagnosis: Diagnosis) -> list[str]:
    board = diagnosis.visit.board
    lines = [""]
    for one in diagnosis.suspects[:SHOWN]:
        words = f"{kind_words(board, one.part)}, {mode_words(board, (one.part, one.modes[0][0]))}"
        lines.append(f"  {one.part:<5} {bar(one.probability)}  {percent(one.probability):>11}  {words}")
    for reason in diagnosis.suspects[0].because[:REASONS] if diagnosis.suspects else ():
        reading = diagnosis.visit.readings[reason.reading]
        words = f"{asked(reading)} read {said(reading)}: expected {reason.expected} with the fault"
        lines.append(wrapped(f"because {words}, {reason.healthy} without.", 4, 2))
    lines.append(wrapped(diagnosis.decision.words, 2, 2))
    return [*lines, ""]
