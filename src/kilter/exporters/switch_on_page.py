"""The switch-on plan as a page to print: one file, no script, nothing loaded from anywhere."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any

from kilter.measure.measured import engineering

STYLE = """
body { font: 11pt/1.4 serif; max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem; color: #111; background: #fff }
h1 { font-size: 1.4rem } h2 { font-size: 1.1rem; margin-top: 1.6rem; border-bottom: 2px solid #111 }
table { border-collapse: collapse; width: 100% } th, td { text-align: left; padding: .3rem .5rem; vertical-align: top;
border-bottom: 1px solid #999 } th { font-weight: normal; font-style: italic } td.box { width: 1.4rem }
.box::before { content: "\\2610"; font-size: 1.2em } .write { border-bottom: 1px dotted #111; min-width: 6rem }
.caution { border-left: 4px solid #111; padding-left: .8rem } tr { break-inside: avoid } ul { padding-left: 1.2rem }
@media print { body { margin: 0; max-width: none } }
"""


def switch_on_page(plan: Mapping[str, Any]) -> str:
    """
    The page.

    Args:
        plan: As `SwitchOnPlan.plain` gives it.
    """
    title = f"{plan['board']}: before the first switch-on"
    parts = [f"<h1>{escape(title)}</h1>", _cautions(plan["cautions"]), "<h2>By eye and hand</h2>",
             _table([], [[words] for words in plan["looks"]]),
             f"<h2>Power off: each rail to ground ({escape(plan['meter'])})</h2>", _rails(plan["rails"])]  # fmt: skip
    if plan["polarity"]:
        parts += ["<h2>Which way round</h2>", _polarity(plan["polarity"])]
    for ramp, words in ((plan["bare"], f"Ramp without {', '.join(plan['unplug'])}"),
                        (plan["whole"], f"Ramp with everything in place, to state '{plan['state']}'")):  # fmt: skip
        if ramp:
            parts += [f"<h2>{escape(words)}</h2>", _ramp(ramp, plan["dwell"])]
    if not plan["whole"]:
        parts.append(f"<h2>Ramp</h2><p>{escape(plan['why_none'])}</p>")
    parts.append("<h2>Passed, or waived and why</h2><p>Name, date, reason: </p><p class='write'>&nbsp;</p>")
    body = "\n".join(parts)
    head = f"<meta charset='utf-8'><meta name='viewport' content='width=device-width'><title>{escape(title)}</title>"
    head += f"<style>{STYLE}</style>"
    return f"<!doctype html>\n<html lang='en'><head>{head}</head><body>\n{body}\n</body></html>\n"


def _cautions(words: Iterable[str]) -> str:
    return "<ul class='caution'>" + "".join(f"<li>{escape(one)}</li>" for one in words) + "</ul>"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, writes: bool = False) -> str:
    """Rows with a box before each, and where asked a place to write what was read."""
    head = "<tr><th></th>" + "".join(f"<th>{escape(one)}</th>" for one in heads) + "</tr>" if heads else ""
    end = "<td class='write'></td>" if writes else ""
    cells = ("".join(f"<td>{escape(cell)}</td>" for cell in row) for row in rows)
    body = "".join(f"<tr><td class='box'></td>{one}{end}</tr>" for one in cells)
    return f"<table>{head}{body}</table>"


def _rails(rails: Iterable[Mapping[str, Any]]) -> str:
    rows = [
        [one["rail"], one["label"] or one["point"], _ohms(one["forward"]), _ohms(one["backward"]),
         engineering(one["least"], "ohm") if one["least"] is not None else "not known"]
        for one in rails
    ]  # fmt: skip
    heads = ["rail", "where", "red on the rail", "leads exchanged", "look into it below", "read"]
    return _table(heads, rows, writes=True)


def _ohms(band: Sequence[float] | None) -> str:
    return f"{engineering(band[0], 'ohm')} to {engineering(band[1], 'ohm')}" if band else "not known"


def _polarity(rows: Iterable[Mapping[str, Any]]) -> str:
    return _table(["part", "plus leg at", "holds"], [
        [one["part"], one["where"] if one["plus"] else "too little to tell", f"{one['volts']:.1f} V"] for one in rows
    ])  # fmt: skip


def _ramp(ramp: Mapping[str, Any], dwell: float) -> str:
    steps = ramp["steps"]
    rails = list(steps[0]["rails"])
    rows = [
        [", ".join(f"{volts:.3g} V" for volts in one["volts"].values()), f"{1e3 * one['limit']:.0f} mA",
         "{:.0f} to {:.0f} mA".format(*(1e3 * amps for amps in one["current"])),
         *("{:.2f} to {:.2f} V".format(*one["rails"][rail]) for rail in rails)]
        for one in steps
    ]  # fmt: skip
    told = (f"Limit first, then volts; wait {dwell:.0f} minutes at each step. Switch off at the limit, outside a band, "
            f"at smoke or smell. Of {ramp['shorts']} shorts tried in the model {len(ramp['unguarded'])} may overload "
            "another part before they show.")  # fmt: skip
    return f"<p>{escape(told)}</p>" + _table(["supply", "limit", "draws", *rails, "read"], rows, writes=True)
