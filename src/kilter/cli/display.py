"""`kilter display`: objects that run for visitors: hours, what is due, spares for years, and what to renew early."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, date, datetime
from pathlib import Path

from kilter.cli.display_text import display_text
from kilter.cli.layout import as_json
from kilter.importers.display_file import read_display
from kilter.measure.errors import BadInput
from kilter.planning.display.showing import Showing
from kilter.services.display_plain import display_plain
from kilter.services.plan_display import DisplayPlan, plan_display

HELP = "hours, due dates, spares and early renewals of objects on display"
DESCRIPTION = (
    "From hours, switch-ons and years of objects that run on display: what is due when, how many parts of each kind "
    "will fail over years, with intervals, how many spares are enough, and where renewing early pays or costs heritage."
)
DOING = "Cannot look at a display"
UNANSWERED = 3


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("file", metavar="FILE", type=Path, nargs="?", help="display file (TOML)")
    parser.add_argument("--home", metavar="DIR", type=Path, help="what the record in this data folder has on display")
    parser.add_argument("--on", metavar="DATE", default="", help="day from which to look, such as 2025-11-03 (today)")
    parser.add_argument("--years", metavar="N", type=float, default=5.0, help="how far to look ahead (5)")
    parser.add_argument("--calendar", metavar="FILE", type=Path, help="write what is due as a calendar file (.ics)")
    parser.add_argument("--page", metavar="FILE", type=Path, help="write a list for the wall (HTML)")
    parser.add_argument("--plot", metavar="DIR", type=Path, help="draw the needs as SVG and PNG")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the plan; exit code 3 where an inspection is over its day or was never written down."""
    day = _day(chosen.on)
    plan = plan_display(_showing(chosen, day), day, chosen.years)
    if chosen.plot:
        from kilter.wiring.display_plots import draw_needs

        for path in draw_needs(plan, chosen.plot):
            print(f"Drawn: {path}", file=sys.stderr)
    _write(chosen, plan)
    print(as_json(display_plain(plan)) if chosen.json else display_text(plan))
    over = sum(one.over for one in plan.due)
    if over:
        print(f"Unanswered: {over} things are over their day or were never written down", file=sys.stderr)
    return UNANSWERED if over else 0


def _showing(chosen: argparse.Namespace, day: date) -> Showing:
    if (chosen.file is None) == (chosen.home is None):
        raise BadInput(DOING, "both of them" if chosen.file else "neither of them", "a display file, or --home",
                       "Name one of the two.")  # fmt: skip
    if chosen.file is not None:
        return read_display(chosen.file)
    from kilter.cli.record_home import open_record

    open_record(chosen.home, DOING)
    from kilter.wiring.record_display import showing_of

    return showing_of(day)


def _day(words: str) -> date:
    if not words:
        return datetime.now(UTC).date()
    try:
        return date.fromisoformat(words)
    except ValueError:
        raise BadInput(DOING, f"the day '{words[:40]}'", "year-month-day, such as 2025-11-03",
                       "Write the day so.") from None  # fmt: skip


def _write(chosen: argparse.Namespace, plan: DisplayPlan) -> None:
    """The calendar and the wall list, each into a new file."""
    texts: list[tuple[Path, str, str]] = []
    if chosen.calendar:
        from kilter.exporters.calendar_file import calendar_file

        texts.append((chosen.calendar, calendar_file(plan.showing.title, plan.due, datetime.now(UTC)), "--calendar"))
    if chosen.page:
        from kilter.exporters.wall_list import wall_list

        texts.append((chosen.page, wall_list(plan), "--page"))
    for path, text, option in texts:
        try:
            with path.open("x", encoding="utf-8", newline="") as file:
                file.write(text)
        except OSError as error:
            raise BadInput("Cannot write what is due", f"'{path}': {error.strerror}", "a new file that can be written",
                           f"Name another file with {option}.") from None  # fmt: skip
