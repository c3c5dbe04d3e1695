"""`kilter switch-on`: what to check before the first switch-on, and how far to turn the supply up at a time."""

from __future__ import annotations

import argparse
from pathlib import Path

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.measure.errors import BadInput
from kilter.measure.measured import engineering
from kilter.safety.first_power.ramp import Ramp, RampStep
from kilter.services.plan_switch_on import CAUTIONS, SwitchOnPlan, plan_switch_on
from kilter.wiring.loading import load_board

HELP = "checks and current limits for the first switch-on"
DESCRIPTION = (
    "Tells what a meter should read from every rail to ground with the power off, which way round polarised capacitors "
    "belong, and a ramp of the supply with a current limit at every step, worked out so that a short in any part shows "
    "before another part bears too much."
)
UNANSWERED = 3
LISTED = 6


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--state", metavar="NAME", default="", help="the powered state to reach")
    parser.add_argument("--meter", metavar="CLASS", default="", help="class of the ohmmeter, such as dmm")
    parser.add_argument("--page", metavar="FILE", type=Path, help="write a checklist to print (HTML)")
    parser.add_argument("--plot", metavar="DIR", type=Path, help="draw the ramp as SVG and PNG")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the plan; exit code 3 where no ramp can be planned."""
    board = load_board(chosen.board)
    plan = plan_switch_on(board, chosen.state, chosen.meter)
    if chosen.page:
        _write_page(chosen.page, plan)
    if chosen.plot and plan.whole:
        from kilter.wiring.ramp_plots import draw_ramp

        draw_ramp(plan.whole, plan.board, chosen.plot)
    print(as_json(plan.plain()) if chosen.json else switch_on_text(plan))
    return 0 if plan.whole else UNANSWERED


def _write_page(path: Path, plan: SwitchOnPlan) -> None:
    from kilter.exporters.switch_on_page import switch_on_page

    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(switch_on_page(plan.plain()))
    except OSError as error:
        raise BadInput("Cannot write the checklist", f"'{path}': {error.strerror}", "a new file that can be written",
                       "Name another file with --page.") from None  # fmt: skip


def switch_on_text(plan: SwitchOnPlan) -> str:
    """The whole plan as text."""
    parts = [f"{plan.board}: before the first switch-on"]
    parts += [wrapped(f"- {words}", 2, 2) for words in CAUTIONS]
    parts.append(heading("1. by eye and hand"))
    parts += [wrapped(f"[ ] {words}", 2, 4) for words in plan.looks]
    parts.append(heading(f"2. power off: each rail to ground, {plan.meter}"))
    parts.append(_rails(plan))
    if plan.polarity:
        parts.append(heading("3. which way round"))
        parts.append(columns(
            (f"[ ] {one.part}", f"plus leg at {one.where}" if one.plus else "too little to tell", f"{one.volts:.1f} V")
            for one in plan.polarity
        ))  # fmt: skip
    if plan.whole is None:
        return "\n".join([*parts, heading("4. ramp"), wrapped(plan.why_none, 2)])
    if plan.bare:
        parts.append(heading(f"4. ramp without {', '.join(plan.unplug)}"))
        parts += _ramp(plan.bare, plan)
    parts.append(heading(f"{5 if plan.bare else 4}. ramp with everything in place, to state '{plan.state}'"))
    parts += _ramp(plan.whole, plan)
    chips = engineering(plan.declared, "A")
    parts.append(wrapped(f"The chips are said to draw {chips} together; the rest is what the circuit draws.", 2))
    return "\n".join(parts)


def _rails(plan: SwitchOnPlan) -> str:
    rows: list[tuple[str, ...]] = [("", "red on the rail", "leads exchanged", "look into it below", "")]
    for one in plan.rails:
        where = f"{one.point}: {one.label}" if one.label else one.point or "no point declared"
        told = [f"{engineering(band[0], 'ohm')} to {engineering(band[1], 'ohm')}" if band else "not known"
                for band in (one.forward, one.backward)]  # fmt: skip
        least = "" if one.least is None else engineering(one.least, "ohm")
        doubt = f"; the model may be wrong here ({100 * one.doubt:.0f} %)" if 0.0 < one.doubt < 1.0 else ""
        rows.append((f"[ ] {one.rail}", *told, least, where + doubt))
    return columns(rows)


def _ramp(ramp: Ramp, plan: SwitchOnPlan) -> list[str]:
    names = list(ramp.steps[0].rails)
    rows = [("", "supply", "limit", "draws", *names)]
    rows += [_row(number, step, names) for number, step in enumerate(ramp.steps, 1)]
    parts = [
        wrapped(f"Set the limit first, then the volts. Wait {plan.dwell:.0f} min at each step until the current is "
                "steady. Switch off when the limit is reached, when a rail is outside its band, or when anything "
                "smells or smokes.", 2),
        columns(rows),
        wrapped(f"{ramp.shorts} shorts were tried in the model: {ramp.shown} stop the ramp before another part bears "
                f"too much, {ramp.harmless} overload nothing, {len(ramp.unguarded)} may overload a part all the same"
                + (f", {len(ramp.unknown)} could not be solved" if ramp.unknown else "") + ".", 2),
    ]  # fmt: skip
    for one in ramp.unguarded[:LISTED]:
        assumed = " (its limit is assumed)" if one.assumed else ""
        parts.append(wrapped(f"- {one.fault[0]} {one.fault[1]}: {one.part} bears {one.times:.1f} times its limit at "
                             f"{100 * one.share:.0f} %{assumed}", 4, 2))  # fmt: skip
    if len(ramp.unguarded) > LISTED:
        parts.append(wrapped(f"and {len(ramp.unguarded) - LISTED} more; --json lists them", 4))
    if ramp.assumed:
        parts.append(wrapped(f"The limits of {len(ramp.assumed)} parts are assumed; say `limits` in the board file "
                             "where they are known.", 2))  # fmt: skip
    return parts


def _row(number: int, step: RampStep, names: list[str]) -> tuple[str, ...]:
    supply = ", ".join(f"{volts:.3g} V" for volts in step.volts.values())
    bands = [f"{step.rails[name][0]:.2f} to {step.rails[name][1]:.2f} V" for name in names]
    low, high = (1e3 * amps for amps in step.current)
    return f"[ ] {number}", supply, f"{1e3 * step.limit:.0f} mA", f"{low:.0f} to {high:.0f} mA", *bands
