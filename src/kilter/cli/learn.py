"""`kilter learn`: what finished visits teach: odds of failures, how far to trust a called probability, minutes."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kilter.cli.layout import as_json
from kilter.cli.learn_text import calibration_text, entries_text, entry_plain, odds_plain, odds_text, times_text
from kilter.cli.record_home import keeper_of, open_record, person_named, place_options
from kilter.diagnose.learned_odds import learned_odds
from kilter.diagnose.learned_odds_counts import band_of
from kilter.importers.failure_counts import read_counts
from kilter.measure.errors import BadInput
from kilter.services.experience import COUNTS, VISIT, WITHDRAWN, plain_counts
from kilter.services.learn_odds import before_deeds, body_of, lesson_of, outcome_of
from kilter.services.learn_times import effort_of, paces
from kilter.services.report_calibration import calibration_of
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board
from kilter.wiring.visit_file import VisitFile

HELP = "what finished visits and counts teach"
DESCRIPTION = (
    "Adds finished visits and failure counts to an experience file, and shows what follows: odds by kind, age and "
    "failure mode, whether called probabilities came true, how long tests take."
)
UNANSWERED = 3
DOING = "Cannot learn"


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    kinds = parser.add_subparsers(title="what to do", metavar="WHAT", required=True)
    visit = kinds.add_parser("visit", help="learn from a finished visit")
    visit.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    visit.add_argument("visit", metavar="VISIT", type=Path, help="visit file")
    visit.add_argument(
        "--found", metavar="PART:MODE", action="append", required=True,
        help="what was faulty; PART alone where nobody found out how, 'none' where no part was; may be repeated",
    )  # fmt: skip
    works = visit.add_mutually_exclusive_group(required=True)
    works.add_argument("--works", action="store_true", help="the object does its work again")
    works.add_argument("--still-broken", action="store_true", help="it does not, or nobody has tried")
    record = kinds.add_parser("record", help="learn from every closed visit of the record that is due")
    counts = kinds.add_parser("counts", help="learn from counts in a CSV file")
    counts.add_argument("counts", metavar="COUNTS", type=Path, help="kind,age,parts,objects,failures")
    odds = kinds.add_parser("odds", help="odds by kind, and who changed them")
    calibration = kinds.add_parser("calibration", help="whether called probabilities came true")
    times = kinds.add_parser("times", help="how long tests take here")
    show = kinds.add_parser("show", help="every entry of the experience file")
    withdraw = kinds.add_parser("withdraw", help="let an entry count no longer")
    withdraw.add_argument("number", metavar="NUMBER", type=int, help="of the entry, as 'show' prints it")
    withdraw.add_argument("--why", metavar="TEXT", required=True, help="the reason, kept with the withdrawal")
    for one in (visit, odds):
        one.add_argument("--age", metavar="YEARS", type=float, help="age of the object")
    does = {visit: _visit, record: _record, counts: _counts, odds: _odds, calibration: _calibration, times: _times,
            show: _show, withdraw: _withdraw}  # fmt: skip
    for one, what in does.items():
        one.set_defaults(learn=what)
        place_options(one, record_alone=what is _record)
        one.add_argument("--json", action="store_true", help="print plain data instead of text")
        if what in (_visit, _record, _counts, _withdraw):
            one.add_argument("--who", metavar="NAME", default="", help="who adds it; the name stays in this file. In "
                             "the record: the login of a person who may")  # fmt: skip


def run(chosen: argparse.Namespace) -> int:
    """Does what was asked for."""
    code: int = chosen.learn(chosen)
    return code


def _visit(chosen: argparse.Namespace) -> int:
    file = keeper_of(chosen, DOING)
    experience, board = file.read(), load_board(chosen.board)
    outcome = outcome_of(chosen.found, works=chosen.works, years=chosen.age)
    if not chosen.visit.is_file():
        raise BadInput("Cannot learn from the visit", f"no file {chosen.visit}", "a visit file", "Name the visit file.")
    log = VisitFile(chosen.visit, board).entries()
    lesson_of(board, log, outcome, None)  # whatever is wrong with the names is said before the long look
    called = None
    readings = before_deeds(log.readings())
    if outcome.works and readings:
        odds = learned_odds(board, experience.weighted(), chosen.age)
        with diagnoser(board, odds=odds, effort=effort_of(experience.times())) as weigher:
            called = weigher.posterior(readings)
    lesson = lesson_of(board, log, outcome, called)
    entry = file.add(experience, VISIT, body_of(lesson, board.name, chosen.visit.name), who=chosen.who)
    if chosen.json:
        print(as_json(entry_plain(entry)))
    else:
        parts, failed = sum(one.parts for one in lesson.counts), sum(one.failed for one in lesson.counts)
        print(f"Entry {entry.number}: {failed} of {parts} parts had failed; {len(lesson.calls)} parts had been named.")
    if outcome.works:
        return 0
    print("Unanswered: what is wrong with an object that does not work is not known to the end, so nothing but the "
          "times was counted.", file=sys.stderr)  # fmt: skip
    return UNANSWERED


def _record(chosen: argparse.Namespace) -> int:
    open_record(chosen.home, DOING)
    from kilter.wiring.record_lessons import learn_from_record

    found = learn_from_record(person_named(chosen.who, DOING), _heard)
    if chosen.json:
        print(as_json(found))
    else:
        print(f"{found['learned']} visits were learned from, {found['withdrawn']} lessons were withdrawn.")
    for visit, why in found["left"].items():
        print(f"Left out: {visit}. {why}", file=sys.stderr)
    if found["without_outcome"]:
        print(f"Unanswered: of {found['without_outcome']} closed visits nobody said how they ended.", file=sys.stderr)
    return UNANSWERED if found["left"] or found["without_outcome"] else 0


def _heard(share: float, words: str) -> None:
    if words:
        print(f"{share:4.0%}  {words} ...", file=sys.stderr)


def _counts(chosen: argparse.Namespace) -> int:
    file = keeper_of(chosen, DOING)
    experience = file.read()
    counts, digest = read_counts(chosen.counts)
    body = {"counts": plain_counts(counts), "file": chosen.counts.name, "sha256": digest}
    entry = file.add(experience, COUNTS, body, who=chosen.who)
    print(as_json(entry_plain(entry)) if chosen.json else f"Entry {entry.number}: {len(counts)} counts.")
    return 0


def _odds(chosen: argparse.Namespace) -> int:
    counts, band = keeper_of(chosen, DOING).read().weighted(), band_of(chosen.age)
    print(as_json(odds_plain(counts, band)) if chosen.json else odds_text(counts, band))
    return 0


def _calibration(chosen: argparse.Namespace) -> int:
    found = calibration_of(keeper_of(chosen, DOING).read().calls())
    print(as_json(found.plain()) if chosen.json else calibration_text(found))
    if found.as_called.worst() is not None:
        return 0
    print("Unanswered: too few visits with a known outcome to judge any stretch of the curve.", file=sys.stderr)
    return UNANSWERED


def _times(chosen: argparse.Namespace) -> int:
    found = paces(keeper_of(chosen, DOING).read().times())
    rows = [
        {"what": one.what, "usual_min": one.usual, "minutes": one.minutes, "times": one.times,
         "factor": one.factor}
        for one in found
    ]  # fmt: skip
    print(as_json({"times": rows}) if chosen.json else times_text(found))
    return 0


def _show(chosen: argparse.Namespace) -> int:
    experience = keeper_of(chosen, DOING).read()
    standing = {one.number for one in experience.standing()}
    rows = [{**entry_plain(one), "stands": one.number in standing} for one in experience.entries]
    print(as_json({"entries": rows}) if chosen.json else entries_text(experience))
    return 0


def _withdraw(chosen: argparse.Namespace) -> int:
    file = keeper_of(chosen, DOING)
    experience = file.read()
    entry = file.add(experience, WITHDRAWN, experience.withdrawal(chosen.number, chosen.why), who=chosen.who)
    print(
        as_json(entry_plain(entry)) if chosen.json else f"Entry {entry.number}: entry {chosen.number} counts no longer."
    )
    return 0
