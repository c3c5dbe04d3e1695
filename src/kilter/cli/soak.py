"""`kilter soak`: hours under power after a repair: what to log, what the log tells, what the hours prove."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kilter.cli import soak_follow
from kilter.cli.layout import as_json
from kilter.cli.soak_text import judged_text, plan_text, proved_text
from kilter.exporters.soak_plan_file import soak_plan_text
from kilter.importers.meter_log import read_meter_logs
from kilter.importers.soak_plan_file import read_soak_plan
from kilter.measure.errors import BadInput
from kilter.planning.soak.proved import least_success, mtbf_interval
from kilter.planning.soak.schedule import proofs
from kilter.services.judge_soak import judge_soak
from kilter.services.plan_soak import plan_soak
from kilter.simulate.chain import usual_chain
from kilter.simulate.circuit.fallback import Fallback
from kilter.wiring.loading import load_board

HELP = "plan and judge hours under power after a repair"
DESCRIPTION = (
    "Plans what to log, how often and where to stop; judges the log by limits, drift and change, with a stated rate of "
    "false alarms; and says what hours without failure prove."
)
UNANSWERED = 3


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    kinds = parser.add_subparsers(title="what to do", metavar="WHAT", required=True)
    plan = kinds.add_parser("plan", help="what to log, how often, and where to stop")
    plan.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    plan.add_argument("--hours", type=float, required=True, help="length of the soak")
    plan.add_argument("--state", metavar="NAME", default="", help="powered state in which it runs")
    plan.add_argument("--out", metavar="FILE", type=Path, help="also write the plan to this new file (TOML)")
    judge = kinds.add_parser("judge", help="what logs tell, one file for each time it was switched on")
    judge.add_argument("logs", metavar="LOG", type=Path, nargs="+", help="CSV with a time and a column a channel")
    judge.add_argument("--plan", metavar="FILE", type=Path, help="the plan; without it no limits are known")
    judge.add_argument("--failures", metavar="N", type=int, default=0, help="failures that no channel shows")
    judge.add_argument("--plot", metavar="DIR", type=Path, help="draw the channels as SVG and PNG")
    proves = kinds.add_parser("proves", help="what hours, and switching on, without failure prove")
    proves.add_argument("--hours", type=float, required=True, help="hours of all objects together")
    proves.add_argument("--failures", metavar="N", type=int, default=0, help="failures in them")
    proves.add_argument("--switch-ons", metavar="N", type=int, default=0, help="times it was switched on, all well")
    proves.add_argument("--confidence", metavar="SHARE", type=float, help="one-sided, such as 0.8; else 0.6 and 0.9")
    follow = soak_follow.options(kinds)
    follow.add_argument("--json", action="store_true", help="print plain data instead of text")
    for one, what in ((plan, _plan), (judge, _judge), (proves, _proves)):
        one.add_argument("--json", action="store_true", help="print plain data instead of text")
        one.set_defaults(soak=what)


def run(chosen: argparse.Namespace) -> int:
    """Does what was asked for."""
    code: int = chosen.soak(chosen)
    return code


def _plan(chosen: argparse.Namespace) -> int:
    board = load_board(chosen.board)
    with Fallback() as fallback:
        plan = plan_soak(board, usual_chain(board, fallback=fallback), chosen.hours, chosen.state)
    if chosen.out:
        _write(chosen.out, soak_plan_text(plan.board, plan.hours, plan.channels))
    print(as_json(plan.plain()) if chosen.json else plan_text(plan))
    for name in plan.unlimited:
        print(f"Unanswered: no limit is known for {name}; give it one in the plan", file=sys.stderr)
    return UNANSWERED if plan.unlimited else 0


def _write(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise BadInput("Cannot write the soak plan", f"'{path}': {error.strerror}", "a new file that can be written",
                       "Name another file with --out.") from None  # fmt: skip


def _judge(chosen: argparse.Namespace) -> int:
    if chosen.plot:
        from kilter.wiring.figures import require_plotting

        require_plotting()
    channels = read_soak_plan(chosen.plan).channels if chosen.plan else ()
    logs = [read_meter_logs(path) for path in chosen.logs]
    found = judge_soak(channels, logs, chosen.failures)
    print(as_json(found.plain()) if chosen.json else judged_text(found))
    if chosen.plot:
        from kilter.wiring.soak_plots import draw_soak

        for path in draw_soak(found, logs, chosen.plot):
            print(f"Drawn: {path}", file=sys.stderr)
    for words in found.open:
        print(f"Unanswered: {words}", file=sys.stderr)
    return UNANSWERED if found.open else 0


def _proves(chosen: argparse.Namespace) -> int:
    levels = [chosen.confidence] if chosen.confidence is not None else []
    found = proofs(chosen.hours, chosen.failures, levels)
    switched = [(one.confidence, least_success(chosen.switch_ons, one.confidence)) for one in found
                if chosen.switch_ons]  # fmt: skip
    if chosen.json:
        both = [mtbf_interval(chosen.hours, chosen.failures, one.confidence) for one in found]
        print(as_json({
            "hours": chosen.hours, "failures": chosen.failures,
            "proofs": [{"confidence": one.confidence, "least_mtbf_hours": one.least, "interval_hours": list(two)}
                       for one, two in zip(found, both, strict=True)],
            "switch_ons": [{"confidence": level, "least_success": share} for level, share in switched],
        }))  # fmt: skip
    else:
        print(proved_text(chosen.hours, chosen.failures, found, switched))
    return 0
