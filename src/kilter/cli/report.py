"""`kilter report`: what is handed over after a visit: page, print, museum XML, a bag, a label, a table."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.records.dossier import Dossier, ObjectFields
from kilter.records.house import House

HELP = "a report of a visit to hand over, or a bag of everything"
DESCRIPTION = (
    "Tells a visit as a report: readings with uncertainty and instrument, what was done, what stays open, cautions. As "
    "text, as a page, in print, as museum XML, or all of it with the files in one folder that can be checked."
)
UNANSWERED = 3
FIELDS = (("number", "N", "object number, as on the label"), ("name", "WORDS", "what the object is called"),
          ("kind", "WORDS", "what sort of thing it is"), ("made", "WORDS", "when it was made, as far as known"),
          ("owner", "WORDS", "whose it is"), ("location", "WORDS", "where it stands"),
          ("limits", "WORDS", "under what conditions it may be shown or run"))  # fmt: skip


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    parser.add_argument("--visit", required=True, metavar="FILE", type=Path, help="visit file of 'kilter bench'")
    for name, metavar, words in FIELDS:
        parser.add_argument(f"--{name}", metavar=metavar, default="", help=words)
    parser.add_argument("--house", metavar="WORDS", default="", help="the collection that hands over")
    parser.add_argument("--house-uri", metavar="URI", default="", help="address that names it and no other")
    for option, words in (("before", "photograph from before the work"), ("after", "photograph from after the work"),
                          ("file", "any other file that belongs to it")):  # fmt: skip
        parser.add_argument(f"--{option}", metavar="FILE", type=Path, action="append", default=[], help=words)
    parser.add_argument("--soak-plan", metavar="FILE", type=Path, help="plan of hours under power after the repair")
    parser.add_argument("--soak-log", metavar="FILE", type=Path, action="append", default=[],
                        help="log of them, one for each time it was switched on")  # fmt: skip
    parser.add_argument("--no-diagnosis", action="store_true", help="leave out what the readings say and prove")
    parser.add_argument("--without-names", action="store_true", help="keys instead of names of persons")
    for option, words in (("html", "write the report as a page"), ("pdf", "write it for print (PDF/A)"),
                          ("lido", "write the object as museum XML (LIDO 1.1), without place, owner and persons"),
                          ("readings", "write the readings as a table (.csv or .xlsx)"),
                          ("label", "write a label with the number as QR code (.svg or .pdf)"),
                          ("zip", "write the bag as one file")):  # fmt: skip
        parser.add_argument(f"--{option}", metavar="FILE", type=Path, help=words)
    parser.add_argument("--bag", metavar="DIR", type=Path, help="write everything into a new folder (BagIt)")
    parser.add_argument("--without-print", action="store_true", help="no PDF in the bag; it wants no typesetter then")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Writes what was asked for; exit code 3 where the report leaves something open or a file is missing from it."""
    from kilter.wiring.visit_dossier import soak_in, visit_dossier

    fields = ObjectFields(**{name: getattr(chosen, name) for name, _, _ in FIELDS})
    files = dict.fromkeys(chosen.before, "photograph before") | dict.fromkeys(chosen.after, "photograph after")
    files |= dict.fromkeys(chosen.file, "document")
    house = House(chosen.house, chosen.house_uri)
    files |= dict.fromkeys(chosen.soak_log, "soak log")
    soak = soak_in(chosen.soak_plan, chosen.soak_log) if chosen.soak_plan or chosen.soak_log else None
    dossier = visit_dossier(chosen.board, chosen.visit, fields=fields, house=house, files=files,
                            diagnose=not chosen.no_diagnosis, names=not chosen.without_names,
                            soak=soak)  # fmt: skip
    missing, written = _write(chosen, dossier)
    if chosen.json:
        from kilter.exporters.report_json import dossier_plain

        print(as_json(dossier_plain(dossier)))
    elif written:
        print("\n".join(f"Written: {one}" for one in written))
    else:
        print(report_text(dossier))
    for words in missing:
        print(f"Not in the bag: {words}.", file=sys.stderr)
    return UNANSWERED if missing or (dossier.findings and dossier.findings.unanswered) else 0


def _write(chosen: argparse.Namespace, dossier: Dossier) -> tuple[list[str], list[Path]]:
    """Everything that was asked for, made before the first file is written; what is missing, and what was written."""
    from kilter.exporters.bag import write_bag, zip_bag
    from kilter.exporters.shared_files import write_new

    made = [(path, content(dossier, path)) for path, content in _contents(chosen)]
    for path, data in made:
        write_new(path, data)
    missing = dict.fromkeys(
        words
        for place, write in ((chosen.bag, write_bag), (chosen.zip, zip_bag))
        if place
        for words in write(dossier, place, pdf=not chosen.without_print)
    )
    return list(missing), [*(path for path, _ in made), *(one for one in (chosen.bag, chosen.zip) if one)]


def _contents(chosen: argparse.Namespace) -> list[tuple[Path, Callable[[Dossier, Path], bytes]]]:
    asked = ((chosen.html, _page), (chosen.pdf, _print), (chosen.lido, _record), (chosen.readings, _table),
             (chosen.label, _label))  # fmt: skip
    return [(path, content) for path, content in asked if path]


def _page(dossier: Dossier, _: Path) -> bytes:
    from kilter.exporters.report_html import report_html

    return report_html(dossier).encode("utf-8")


def _print(dossier: Dossier, _: Path) -> bytes:
    from kilter.exporters.report_pdf import report_pdf

    return report_pdf(dossier)


def _record(dossier: Dossier, _: Path) -> bytes:
    from kilter.exporters.lido import lido

    return lido(dossier).encode("utf-8")


def _table(dossier: Dossier, path: Path) -> bytes:
    from kilter.exporters.spreadsheet import READING_HEADS, csv_bytes, reading_rows, workbook

    rows = reading_rows([dossier])
    return workbook("readings", READING_HEADS, rows) if _is(path, ".xlsx", ".csv") else csv_bytes(READING_HEADS, rows)


def _label(dossier: Dossier, path: Path) -> bytes:
    from kilter.exporters.label import label_svg, labels_pdf

    if _is(path, ".pdf", ".svg"):
        return labels_pdf([dossier.object], dossier.made_at)
    return label_svg(dossier.object).encode("utf-8")


def _is(path: Path, first: str, second: str) -> bool:
    """Whether a name ends like the first; one that ends like neither is refused."""
    from kilter.measure.errors import BadInput

    if path.suffix.lower() not in (first, second):
        raise BadInput(f"Cannot write '{path.name}'", f"the ending '{path.suffix}'", f"{first} or {second}",
                       "Choose such a name.")  # fmt: skip
    return path.suffix.lower() == first


def report_text(dossier: Dossier) -> str:
    """The report as text; photographs are named."""
    from kilter.exporters.report_sections import Facts, Grid, Items, Words, sections, title

    lines = [title(dossier)]
    for section in sections(dossier):
        lines.append(heading(section.title))
        for block in section.blocks:
            match block:
                case Words():
                    lines.append(wrapped(block.words, 2))
                case Facts():
                    lines.append(columns(block.rows))
                case Items():
                    lines += [wrapped(f"- {one}", 2, 2) for one in block.items]
                case Grid():
                    lines.append(columns([block.heads, *block.rows]))
                case _:
                    lines += [wrapped(f"- {one.caption}", 2, 2) for one in block.pictures]
    return "\n".join(lines)
