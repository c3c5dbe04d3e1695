"""The report as one page: no script, nothing loaded from anywhere, fit to print, every word escaped."""

from __future__ import annotations

from base64 import b64encode
from html import escape

from kilter.exporters.harmless import clean
from kilter.exporters.pictures import Picture
from kilter.exporters.report_sections import Block, Facts, Grid, Items, Pictures, Section, Words, sections, title
from kilter.records.dossier import Dossier

STYLE = """
body { font: 11pt/1.45 serif; max-width: 62rem; margin: 1.5rem auto; padding: 0 1rem; color: #111; background: #fff }
h1 { font-size: 1.5rem } h2 { font-size: 1.15rem; margin-top: 1.8rem; border-bottom: 2px solid #111 }
.wide { overflow-x: auto } table { border-collapse: collapse; width: 100% }
th, td { text-align: left; padding: .25rem .5rem; vertical-align: top; border-bottom: 1px solid #999 }
th { font-weight: normal; font-style: italic } td { overflow-wrap: anywhere; white-space: pre-line; min-width: 3rem }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .2rem 1rem } dt { font-style: italic }
dd { margin: 0 } dd, li, p { white-space: pre-line; overflow-wrap: anywhere }
.caution { border-left: 4px solid #111; padding-left: 1.6rem }
.pictures { display: grid; grid-template-columns: repeat(auto-fit, minmax(16rem, 1fr)); gap: 1rem }
figure { margin: 0; break-inside: avoid } img { max-width: 100%; height: auto } tr { break-inside: avoid }
@media print { body { margin: 0; max-width: none } .wide { overflow: visible } }
"""
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def report_html(dossier: Dossier) -> str:
    """
    The page.

    Raises:
        NotAvailable: There are photographs, and no reader of pictures on this machine.
    """
    head = (
        "<meta charset='utf-8'>"
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        "<meta name='viewport' content='width=device-width'>"
        f"<title>{_safe(title(dossier))}</title><style>{STYLE}</style>"
    )
    body = "\n".join(map(_section, sections(dossier)))
    return (
        f"<!doctype html>\n<html lang='en'><head>{head}</head>\n<body>\n<h1>{_safe(title(dossier))}</h1>\n"
        f"{body}\n</body></html>\n"
    )


def _section(one: Section) -> str:
    return f"<section><h2>{_safe(one.title)}</h2>\n" + "\n".join(map(_block, one.blocks)) + "</section>"


def _block(block: Block) -> str:
    match block:
        case Words():
            return f"<p>{_safe(block.words)}</p>"
        case Facts():
            rows = (f"<dt>{_safe(label)}</dt><dd>{_safe(words)}</dd>" for label, words in block.rows)
            return f"<dl>{''.join(rows)}</dl>"
        case Items():
            mark = " class='caution'" if block.caution else ""
            return f"<ul{mark}>" + "".join(f"<li>{_safe(one)}</li>" for one in block.items) + "</ul>"
        case Grid():
            return _grid(block)
        case Pictures():
            return f"<div class='pictures'>{''.join(map(_figure, block.pictures))}</div>"


def _grid(block: Grid) -> str:
    head = "".join(f"<th scope='col'>{_safe(one)}</th>" for one in block.heads)
    rows = ("".join(f"<td>{_safe(cell)}</td>" for cell in row) for row in block.rows)
    body = "".join(f"<tr>{row}</tr>\n" for row in rows)
    return f"<div class='wide' tabindex='0'><table><thead><tr>{head}</tr></thead><tbody>\n{body}</tbody></table></div>"


def _figure(one: Picture) -> str:
    words = _safe(one.caption)
    source = f"data:image/jpeg;base64,{b64encode(one.data).decode('ascii')}"
    return (f"<figure><img src='{source}' width='{one.width}' height='{one.height}' alt='{words}'>"
            f"<figcaption>{words}</figcaption></figure>")  # fmt: skip


def _safe(words: str) -> str:
    return escape(clean(words), quote=True)
