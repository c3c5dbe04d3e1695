"""The acceptance list as a page to print and fill in: one file, no script, nothing loaded from anywhere."""

from __future__ import annotations

from html import escape

from kilter.exporters.switch_on_page import STYLE
from kilter.services.prove_repair import CAUTIONS, Proof, Proved, limit_words
from kilter.services.wording import said


def acceptance_page(found: Proof) -> str:
    """The page; what was not read has a place to write it."""
    title = f"{found.board}: acceptance after repair"
    parts = [f"<h1>{escape(title)}</h1>", _list(CAUTIONS)]
    parts.append(f"<p>Verdict so far: <strong>{escape(found.verdict)}</strong>. Most chance of a wrong verdict on one "
                 f"point: {100 * found.risk:g} %.</p>")  # fmt: skip
    if found.faults:
        named = ", ".join(f"{part} {mode}" for part, mode in found.faults)
        parts.append(f"<p>Made to catch: {escape(named)}.</p>")
    for state in dict.fromkeys(one.item.test.state for one in found.items):
        parts.append(f"<h2>State '{escape(state)}'</h2>")
        parts.append(_table([one for one in found.items if one.item.test.state == state]))
    parts.append("<h2>Accepted by</h2><p>Name, date: </p><p class='write'>&nbsp;</p>")
    head = f"<meta charset='utf-8'><meta name='viewport' content='width=device-width'><title>{escape(title)}</title>"
    return (f"<!doctype html>\n<html lang='en'><head>{head}<style>{STYLE}</style></head><body>\n"
            + "\n".join(parts) + "\n</body></html>\n")  # fmt: skip


def _list(words: tuple[str, ...]) -> str:
    return "<ul class='caution'>" + "".join(f"<li>{escape(one)}</li>" for one in words) + "</ul>"


def _table(rows: list[Proved]) -> str:
    heads = ("point", "quantity", "accepted", "limits from", "why", "read", "verdict")
    head = "<tr><th></th>" + "".join(f"<th scope='col'>{escape(one)}</th>" for one in heads) + "</tr>"
    return f"<table>{head}{''.join(_row(one) for one in rows)}</table>"


def _row(one: Proved) -> str:
    test = one.item.test
    cells = (test.point, test.quantity.replace("_", " "), limit_words(one.item), one.item.source,
             ", ".join(one.item.why))  # fmt: skip
    read = f"<td>{escape(said(one.reading))}</td>" if one.reading else "<td class='write'></td>"
    box = "<td class='box'></td>" if one.reading is None else "<td></td>"
    return f"<tr>{box}{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}{read}<td>{escape(one.verdict)}</td></tr>"
