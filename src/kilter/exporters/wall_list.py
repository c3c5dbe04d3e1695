"""What is due on display, and the spares, as a page for the wall: one file, no script, nothing loaded from anywhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from kilter.exporters.switch_on_page import STYLE
from kilter.planning.display.usage import Rate
from kilter.services.plan_display import CAUTIONS, DisplayPlan

WIDE = "div.wide{overflow-x:auto}@media print{div.wide{overflow:visible}}"
"""A table on a narrow screen is moved sideways by itself, not with the whole page."""


def wall_list(plan: DisplayPlan) -> str:
    """The page, with a box and a place to sign for everything that is due."""
    named = plan.showing.title
    title = named.capitalize() if named == "on display" else f"{named}: on display"
    names = {one.number: one.title for one in plan.showing.objects}
    parts = [f"<h1>{escape(title)}</h1><p>As of {plan.today.isoformat()}.</p>", _list(CAUTIONS), "<h2>Due</h2>"]
    parts.append(_table(
        ("by", "object", "what", "last done", "done by"),
        ((one.day.isoformat() + (" (over)" if one.over else ""), f"{one.object} {names.get(one.object, '')}".strip(),
          one.words, one.last.isoformat() if one.last else "never written down", "") for one in plan.due),
        box=True,
    ))  # fmt: skip
    parts.append("<h2>Hours and switch-ons</h2>")
    parts.append(_table(
        ("object", "hours so far", "hours a year", "switched on so far", "write today's counts here"),
        ((f"{one.thing.number} {one.thing.title}".strip(), _so_far(one.hours), _a_year(one.hours),
          _so_far(one.switch_ons), "") for one in plan.standings),
    ))  # fmt: skip
    parts.append(f"<h2>Spares for {plan.years:g} years</h2>")
    parts.append(_table(
        ("part", "places", "failures expected", "likely between", "keep"),
        ((one.kind.words, str(one.places), f"{one.mean:.1f}", f"{one.low} and {one.high}", str(one.spares))
         for one in plan.needs),
    ))  # fmt: skip
    head = f"<meta charset='utf-8'><meta name='viewport' content='width=device-width'><title>{escape(title)}</title>"
    return (f"<!doctype html>\n<html lang='en'><head>{head}<style>{STYLE}{WIDE}</style></head><body>\n"
            + "\n".join(parts) + "\n</body></html>\n")  # fmt: skip


def _so_far(rate: Rate) -> str:
    """A total; what nobody counted or planned is not known, and never nothing."""
    return f"{rate.so_far:.0f}" if rate.known else "not known"


def _a_year(rate: Rate) -> str:
    return f"{rate.a_year:.0f}" if rate.known else f"not known ({rate.a_year:.0f} assumed)"


def _list(words: Iterable[str]) -> str:
    return "<ul class='caution'>" + "".join(f"<li>{escape(one)}</li>" for one in words) + "</ul>"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, box: bool = False) -> str:
    start = "<th></th>" if box else ""
    head = f"<tr>{start}" + "".join(f"<th scope='col'>{escape(one)}</th>" for one in heads) + "</tr>"
    first = "<td class='box'></td>" if box else ""
    body = "".join(
        f"<tr>{first}" + "".join(f"<td>{escape(cell)}</td>" if cell else "<td class='write'></td>" for cell in row)
        + "</tr>" for row in rows
    )  # fmt: skip
    return f"<div class='wide' tabindex='0' role='group' aria-label='Table'><table>{head}{body}</table></div>"
