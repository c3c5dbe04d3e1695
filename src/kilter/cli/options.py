"""`kilter options`: what can be done about the suspects, side by side, and how one of it is carried out."""

from __future__ import annotations

import argparse
from pathlib import Path

from kilter.cli.diagnose import instruments_named
from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.importers.collection_file import read_collection
from kilter.importers.stock_table import read_stock
from kilter.measure.errors import OutOfRange
from kilter.planning.numbers import number
from kilter.planning.options.rank import Choice
from kilter.planning.options.rework import Rework, leak_kinds
from kilter.services.plan_rework import plain_rework, plan_rework, repair_hazards
from kilter.services.weigh_options import CAUTION, Options, weigh_options
from kilter.services.wording import percent
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board, load_readings

HELP = "cures for the suspects side by side, one more test, or leaving it"
DESCRIPTION = (
    "Weighs cleaning, soldering, sockets, spares, substitutes, donor parts, a supply outside and leaving the object "
    "for static display, by expected loss, together with the value of one more test; and plans how one cure is done."
)
LISTED = 15


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--readings", required=True, metavar="FILE", help="readings (CSV or TOML) or a visit file")
    parser.add_argument("--stock", metavar="LIST", type=Path, action="append", default=[],
                        help="stock list (CSV or .xlsx); without it pieces are assumed to be had")  # fmt: skip
    parser.add_argument("--collection", metavar="FILE", type=Path, help="collection file, for its stand-ins")
    parser.add_argument("--static-loss", metavar="MIN", type=float, help="loss in minutes if the object stays silent")
    parser.add_argument("--instruments", metavar="LIST", default="", help="what is at hand, such as dmm,scope")
    parser.add_argument("--power-checks-passed", action="store_true",
                        help="the checks before switching on were passed on this object")  # fmt: skip
    parser.add_argument("--rework", metavar="PART[:OPTION]", default="", help="plan how this is carried out")
    parser.add_argument("--leak", choices=leak_kinds(), default="", help="what leaked there")
    parser.add_argument("--heated-before", metavar="N", type=int, default=0, help="times its joints were heated before")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the comparison, or a rework plan."""
    if chosen.static_loss is not None and not 0.0 <= chosen.static_loss <= 1e6:
        raise OutOfRange("Cannot weigh the options", f"a static loss of {chosen.static_loss:g} min",
                         "0 to 1 000 000 min", "Choose such a time.")  # fmt: skip
    board = load_board(chosen.board)
    readings = load_readings(chosen.readings, board)
    tables = [read_stock(path) for path in chosen.stock]
    lots = [lot for one in tables for lot in one.lots] if chosen.stock else None
    stand_ins = read_collection(chosen.collection).stand_ins if chosen.collection else ()
    at_hand = instruments_named(chosen.instruments)
    with diagnoser(board, at_hand=at_hand, power_checks=chosen.power_checks_passed) as weigher:
        diagnosis = weigher.diagnose(readings)
    found = weigh_options(diagnosis, lots=lots, stand_ins=stand_ins, static_loss=chosen.static_loss)
    if chosen.rework:
        plan = plan_rework(board, found.ranking, chosen.rework, leak=chosen.leak, heated_before=chosen.heated_before)
        more = repair_hazards(board)
        print(as_json(plain_rework(plan, more)) if chosen.json else rework_text(plan, more))
    else:
        print(as_json(found.plain()) if chosen.json else options_text(board.name, found))
    return 0


def options_text(name: str, found: Options) -> str:
    """The comparison as text."""
    ranking = found.ranking
    parts = [f"{name}: {len(ranking.choices)} cures weighed for {', '.join(part for part, _ in found.suspects)}."]
    parts += [heading("what to do"), wrapped(found.words, 2)]
    parts += [heading("cures, the least expected loss first"), _table(found)]
    hidden = len(ranking.choices) - len(_shown(found))
    if hidden:
        parts.append(wrapped(f"and {hidden} more, of which most hardly help; --json lists them", 2))
    parts += [heading("instead"), f"  leave it, display static: loss {ranking.leave:.0f}"]
    for one in ranking.tests:
        test = one.advice.test
        words = f"first read {test.quantity} at {test.point}, state '{test.state}': loss {one.loss:.0f}"
        parts.append(wrapped(f"{words} (costs {one.advice.cost:.0f}, its answer saves {one.saves:.0f})", 2, 2))
    parts += [heading("what this rests on")]
    parts.append(wrapped(f"With a chance of {percent(ranking.something_else)} something is wrong that none of these "
                         "cures removes: another part, or what the model cannot express.", 2))  # fmt: skip
    if found.missing:
        parts.append(wrapped(f"No piece in the stock lists for {'; '.join(found.missing)}.", 2))
    if found.assumed:
        parts.append(wrapped("No stock list was given: that pieces can be had is assumed.", 2))
    if not ranking.whole:
        parts.append(wrapped("Not every order of cures was looked at: losses may be a little too high.", 2))
    return "\n".join([*parts, heading("cautions"), wrapped(CAUTION, 2)])


def _shown(found: Options) -> list[Choice]:
    """Cures that remove a fault with some chance; one that hardly does may stand high only for what follows it."""
    least = number("repair_options", "least_helps")
    return [one for one in found.ranking.choices if one.helps >= least][:LISTED]


def _table(found: Options) -> str:
    rows = [("loss", "works after", "mends", "minutes", "grade", "undo", "pad", "as made", "")]
    for one in _shown(found):
        cure = one.cure
        where = f" ({cure.origin})" if cure.origin else ""
        took = f"-{cure.keeps:.0f}" if cure.keeps else "-"
        rows.append((f"{one.loss:.0f}", percent(one.fixed), percent(one.helps), f"{cure.minutes:.0f}", f"{cure.grade}",
                     cure.undo, percent(cure.pad) if cure.pad else "-", took,
                     f"{' and '.join(cure.parts)}: {cure.words}{where}"))  # fmt: skip
    return columns(rows) if len(rows) > 1 else "  none that may help"


def rework_text(plan: Rework, more: tuple[str, ...]) -> str:
    """The rework plan as text."""
    parts = [f"{' and '.join(plan.cure.parts)}: {plan.cure.words}"]
    undo = "cannot be undone" if plan.cure.undo == "not" else f"can be undone {plan.cure.undo}"
    parts.append(wrapped(f"Grade {plan.cure.grade}, {undo}; about {plan.cure.minutes:.0f} min.", 2))
    if plan.joints:
        parts.append(wrapped(f"{plan.joints} joints, each heated {plan.heat} times; a pad here is likely to bear "
                             f"{plan.most_heat} more.", 2))  # fmt: skip
    if plan.too_hot:
        parts.append(wrapped("That is more than the pads are likely to bear: choose another cure, or leave it.", 2))
    if plan.clean:
        parts += [heading("leak"), wrapped(plan.clean, 2)]
    parts.append(heading("steps"))
    parts += [wrapped(f"{at}. {words}", 2, 3) for at, words in enumerate(plan.steps, 1)]
    parts.append(heading("cautions"))
    parts += [wrapped(f"- {words}", 2, 2) for words in (*plan.cautions, *more)]
    return "\n".join(parts)
