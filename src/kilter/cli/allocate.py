"""`kilter allocate`: which objects get which parts, which donor is taken apart, and what to buy."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.importers.collection_file import read_collection
from kilter.importers.stock_table import read_stock
from kilter.measure.errors import OutOfRange
from kilter.planning.allocation.plan import Made, Plan
from kilter.planning.allocation.prices import Price
from kilter.planning.allocation.worlds import MOST_WORLDS
from kilter.planning.numbers import number
from kilter.services.allocate_parts import CAUTIONS, AfterDiagnosis, Allocation, allocate_parts
from kilter.services.wording import percent
from kilter.wiring.collections import problem_of

HELP = "who gets which parts, which donor is taken apart, what to buy"
DESCRIPTION = (
    "Shares out spares and donors over the objects of a collection so that the expected worth of what works is "
    "greatest, shows how far from the best the plan may be, and says in words why."
)
UNANSWERED = 3
LISTED = 15
ROUNDING = 1e-6
"""A gap as small as this is the solver's own rounding."""


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("collection", metavar="COLLECTION", type=Path, help="collection file (TOML)")
    parser.add_argument("--stock", metavar="LIST", type=Path, action="append", default=[],
                        help="stock list (CSV or .xlsx); may be repeated")  # fmt: skip
    parser.add_argument(
        "--gap", metavar="SHARE", type=float, help="stop when that near the best plan; 0.001 unless said"
    )
    parser.add_argument("--seconds", metavar="N", type=float, help="show the best plan found after that time")
    parser.add_argument("--why-not", metavar="NUMBER", default="", help="what it would cost to serve this object")
    parser.add_argument("--worlds", metavar="N", type=int, default=0,
                        help="also decide on donors first and share out after the diagnoses, over N ways")  # fmt: skip
    parser.add_argument("--no-prices", action="store_true", help="leave out what one more piece would be worth")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the plan; exit code 3 where the gap asked for was not reached or rows of a list were left out."""
    _check(chosen)
    collection = read_collection(chosen.collection)
    tables = [(path, read_stock(path)) for path in chosen.stock]
    problem = problem_of(collection, [lot for _, table in tables for lot in table.lots])
    found = allocate_parts(problem, gap=chosen.gap, seconds=chosen.seconds, what_to_buy=not chosen.no_prices,
                           why_not=chosen.why_not, worlds=chosen.worlds)  # fmt: skip
    print(as_json(found.plain()) if chosen.json else allocation_text(collection.name, found))
    left = [f"{path.name} {one.place}: {one.found}" for path, table in tables for one in table.problems]
    for words in left:
        print(f"Unanswered: {words}; the row was left out.", file=sys.stderr)
    wanted = number("allocation", "gap") if chosen.gap is None else chosen.gap
    short = found.plan.gap > wanted + ROUNDING
    if short:
        print(f"Unanswered: the gap is {100 * found.plan.gap:.2g} %, not {100 * wanted:.2g} %; allow more seconds.",
              file=sys.stderr)  # fmt: skip
    return UNANSWERED if left or short else 0


def _check(chosen: argparse.Namespace) -> None:
    if chosen.gap is not None and not 0.0 <= chosen.gap < 1.0:
        raise OutOfRange("Cannot share out the parts", f"a gap of {chosen.gap:g}", "0 up to, not including, 1",
                         "Choose such a share.")  # fmt: skip
    if not 0 <= chosen.worlds <= MOST_WORLDS:
        raise OutOfRange("Cannot share out the parts", f"{chosen.worlds} worlds", f"0 to {MOST_WORLDS}",
                         "Choose such a number.")  # fmt: skip
    if chosen.seconds is not None and not 0.0 < chosen.seconds < 1e6:
        raise OutOfRange("Cannot share out the parts", f"{chosen.seconds:g} s", "above 0 and below 1 000 000 s",
                         "Choose such a time.")  # fmt: skip


def allocation_text(name: str, found: Allocation) -> str:
    """The whole plan as text."""
    plan = found.plan
    parts = [f"{name}: {len(found.problem.objects)} objects, {len(found.problem.donors)} donors."]
    parts.append(heading("made to work"))
    parts += [line for one in plan.made for line in _made(one)] or ["  none"]
    for title, about in (("taken apart", ("broken",)), ("stay whole", ("spared", "refused")),
                         ("have to wait", ("waiting",))):  # fmt: skip
        some = [one for one in found.reasons if one.about in about]
        if some:
            parts.append(heading(title))
            parts += [wrapped(one.words, 2, 2) for one in some[:LISTED]]
            if len(some) > LISTED:
                parts.append(f"  and {len(some) - LISTED} more; --json lists them")
    if plan.bought:
        parts.append(heading("buy or ask for"))
        parts += [f"  {n} × {one.part} ({one.key}), {one.cost:.2f} each" for one, n in plan.bought]
    if found.prices:
        parts.append(heading("one more good piece would add"))
        parts.append(columns(
            (one.part, f"{one.price:.2f}" if one.gain is None else f"{one.gain:.2f}",
             _serves(one))
            for one in found.prices[:LISTED]
        ))  # fmt: skip
    if found.why_not:
        parts.append(heading(f"why not {found.why_not.subject}"))
        parts.append(_why_not(found))
    if found.after:
        parts += [heading("if the diagnoses are settled first"), *_after(found.after, plan)]
    return "\n".join([*parts, heading("how good the plan is"), *_quality(plan), heading("cautions"),
                      *(wrapped(words, 2) for words in CAUTIONS)])  # fmt: skip


def _made(one: Made) -> list[str]:
    title = f" {one.wanting.title}" if one.wanting.title else ""
    words = f"{one.wanting.number}{title} (worth {one.wanting.worth:g}): works with a chance of {percent(one.likely)}"
    lines = [wrapped(words + (f", provided for {'; '.join(one.provided)}" if one.provided else ""), 2, 4)]
    for piece in one.pieces:
        where = {"shelf": "from the shelf, ", "donor": "out of ", "offer": "bought, "}[piece.source] + piece.origin
        stands = "" if piece.verdict == "same" else f" in place of {piece.wanted}" + (
            ", with conditions" if piece.verdict == "conditions" else "")  # fmt: skip
        lines.append(wrapped(f"- {piece.part}{stands}: {where}, good with {percent(piece.good)}", 6, 2))
    return lines


def _serves(one: Price) -> str:
    if one.gain is None:
        return "estimated"
    return f"serves {', '.join(one.serves)}" if one.serves else "better pieces where there are some"


def _why_not(found: Allocation) -> str:
    one = found.why_not
    assert one is not None
    if one.subject in {made.wanting.number for made in found.plan.made}:
        return wrapped("It is served by the plan.", 2)
    if one.loss is None:
        return wrapped("No plan can serve it from this stock, these donors and these offers.", 2)
    words = f"The best plan that serves it is worth {max(0.0, one.loss):.2f} less"
    lost = f"; then {', '.join(one.lost)} would have to wait." if one.lost else "."
    return wrapped(words + lost, 2)


def _after(after: AfterDiagnosis, plan: Plan) -> list[str]:
    over = f"all {after.worlds} ways" if after.every else f"{after.worlds} drawn ways"
    error = "" if after.every else f" ± {after.spread:.2f}"
    broken = ", ".join(one.number for one in after.first.broken) or "none"
    bought = ", ".join(f"{n} × {one.part}" for one, n in after.first.bought) or "nothing"
    return [
        wrapped(f"Expected worth {after.worth:.2f}{error} over {over} in which they may turn out, against "
                f"{plan.worth:.2f} where parts are set aside now. Donors taken apart before: {broken}; bought before: "
                f"{bought}. With the plan's own donors and purchases it would be {after.plan:.2f}.", 2),
    ]  # fmt: skip


def _quality(plan: Plan) -> list[str]:
    words = [
        f"Expected worth {plan.worth:.2f}; no plan is worth more than {plan.bound:.2f}, so it may fall short by at "
        f"most {100 * plan.gap:.2g} %."
    ]
    if not plan.exact:
        words.append(
            "For objects that want many pieces only some ways to mix good and doubtful pieces were looked at, and the "
            "bound counts those alone."
        )
    words.append("Chances of pieces are rounded down to grades while planning; those shown are the pieces' own.")
    return [wrapped(one, 2) for one in words]
