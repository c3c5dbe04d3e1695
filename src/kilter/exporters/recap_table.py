"""A recap list as a table for a spreadsheet, and as a page to print with room to write."""

from __future__ import annotations

from html import escape

from kilter.exporters.spreadsheet import Cell
from kilter.measure.measured import engineering
from kilter.planning.recap import RecapLine
from kilter.services.recap_list import CAUTIONS, RecapList

HEADS = ("part", "kind", "where", "value", "rated volts", "worst volts there", "plus side", "new value", "new volts",
         "new celsius", "diameter mm", "height mm", "lead spacing mm", "original", "kept where", "notes")  # fmt: skip
STYLE = """
body { font: 10pt/1.35 serif; max-width: 75rem; margin: 1.5rem auto; padding: 0 1rem; color: #111; background: #fff }
h1 { font-size: 1.3rem } h2 { font-size: 1.05rem; margin-top: 1.4rem } table { border-collapse: collapse; width: 100% }
th, td { text-align: left; padding: .25rem .4rem; vertical-align: top; border-bottom: 1px solid #999 }
th { font-weight: normal; font-style: italic } .write { min-width: 3.5rem; border-bottom: 1px dotted #111 }
.caution { border-left: 4px solid #111; padding-left: 1.6rem } tr { break-inside: avoid }
@media print { body { margin: 0; max-width: none } @page { size: A4 landscape; margin: 12mm } }
"""


def recap_rows(found: RecapList) -> list[tuple[Cell, ...]]:
    """One row for each capacitor, under HEADS; sizes and the place of the original are left to be written in."""
    return [
        (one.part, one.kind, one.where, _value(one.capacitance), _number(one.volts), _number(one.held), one.plus,
         _value(one.new_capacitance), _number(one.new_volts), found.celsius, "", "", "",
         "yes" if one.original else "no", "", "; ".join(one.notes))
        for one in found.lines
    ]  # fmt: skip


def recap_page(found: RecapList) -> str:
    """The list as one HTML file: no script, nothing loaded from anywhere."""
    title = f"{found.board}: capacitors that age"
    rows = "\n".join(_row(one) for one in found.lines)
    heads = ("part", "where", "says", "worst there", "plus side", "new", "size in mm: Ø, height, leads",
             "measured: C, ESR, leak", "original kept where, date, name")  # fmt: skip
    head = "".join(f"<th>{escape(one)}</th>" for one in heads)
    pieces = (f"{one['count']} × {_value(one['capacitance'])} {one['volts']:g} V ({one['kind']})"
              for one in found.to_buy())  # fmt: skip
    buy = "".join(f"<li>{escape(one)}</li>" for one in pieces)
    cautions = "".join(f"<li>{escape(one)}</li>" for one in CAUTIONS)
    told = [*found.advice().items(), *found.noted()]
    notes = "".join(f"<li>{escape(whom)}: {escape(note)}</li>" for whom, note in told)
    body = (
        f"<h1>{escape(title)}</h1><ul class='caution'>{cautions}</ul><table><tr>{head}</tr>{rows}</table>"
        f"<h2>Pieces, {found.celsius:g} °C class preferred</h2><ul>{buy}</ul><h2>Notes</h2><ul>{notes}</ul>"
    )
    return (
        f"<!doctype html>\n<html lang='en'><head><meta charset='utf-8'><title>{escape(title)}</title>"
        f"<style>{STYLE}</style></head><body>\n{body}\n</body></html>\n"
    )


def _row(one: RecapLine) -> str:
    new = f"{_value(one.new_capacitance)} {_volts(one.new_volts)}"
    says = f"{_value(one.capacitance)} {_volts(one.volts)}"
    cells = (one.part, one.where, says, _volts(one.held), one.plus or "?", new)
    written = "<td class='write'></td>" * 3
    return "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + written + "</tr>"


def _value(farad: float | None) -> str:
    if farad is None:
        return "?"
    words = engineering(farad, "F", 3)
    number, _, suffix = words.partition(" ")
    return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {suffix}"


def _volts(volts: float | None) -> str:
    return "? V" if volts is None else f"{volts:.3g} V"


def _number(value: float | None) -> Cell:
    return "" if value is None else float(f"{value:.3g}")
