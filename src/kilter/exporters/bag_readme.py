"""The README of a bag: what is in it and how to check it, for somebody who has never heard of Kilter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kilter.exporters.harmless import one_line
from kilter.records.dossier import Dossier

FILES = (
    ("report.html", "the record as a page; any browser shows it, without a network"),
    ("report.pdf", "the same in print"),
    ("dossier.json", "the record for programs; dossier.schema.json tells its form (JSON Schema 2020-12)"),
    ("readings.csv", "every reading, one a line; an apostrophe at the start of a cell keeps it from being run"),
    ("lido.xml", "the object as museum XML (LIDO 1.1), with location, owner and persons: not for publishing as it is"),
    ("journal.jsonl", "who did what to the record, one entry a line"),
)


def readme(dossier: Dossier, names: Mapping[str, str], missing: Sequence[str], *, pdf: bool) -> str:
    """The text; names: SHA-256 to place."""
    one = dossier.object
    parts = [f"Record of the object {one_line(one.number)} {one_line(one.name)}".rstrip(), ""]
    when, house = one_line(dossier.made_at) or "at a time not said", one_line(dossier.house) or "a house not named"
    parts += [f"Put together {when} by {house}.", "", "FILES", ""]
    parts += [f"  {name}\n    {words}" for name, words in FILES if pdf or name != "report.pdf"]
    parts += _attachments(dossier, names)
    if missing:
        parts += ["", "NOT IN THIS BAG", "", *(f"  {words}" for words in missing)]
    parts += ["", *CHECKING]
    if dossier.journal:
        parts += ["", *JOURNAL]
    parts += ["", "PERSONS", "", NAMED if dossier.named() else KEYS, *UNSEARCHED]
    return "\n".join(parts) + "\n"


def _attachments(dossier: Dossier, names: Mapping[str, str]) -> list[str]:
    shown: dict[str, str] = {}
    for one in dossier.attachments:
        if one.sha256 in names:
            words = f"{one_line(one.kind)}, came as '{one_line(one.name)}'"
            shown.setdefault(names[one.sha256], f"{words}: {one_line(one.caption)}" if one.caption.strip() else words)
    return [f"  {place}\n    {words}" for place, words in shown.items()]


NAMED = "Names of persons stand under 'names' in dossier.json, and in the reports."
KEYS = "Persons are shown by keys such as p-12ab34cd; whose they are is known to the house named above."
UNSEARCHED = (
    "Free words and photographs were not searched for names, faces or places. Photographs are as they",
    "came, with what the camera wrote into them.",
)
CHECKING = (
    "CHECKING",
    "",
    "This folder is a bag by RFC 8493 (BagIt). Whether a file was altered or lost is told by",
    "  sha256sum --check manifest-sha256.txt",
    "in the folder above this one, or by any program for bags.",
)
JOURNAL = (
    "JOURNAL",
    "",
    "The hash of an entry is the SHA-256, in hexadecimal, of a JSON text in UTF-8: its fields number, at,",
    "who, verb, what, why, before, after, evidence and previous together with \"edition\": 1, keys sorted, no",
    "blanks outside texts, letters beyond ASCII as they are. 'previous' is the hash of the entry before it in",
    "the whole journal, of which this object's entries are a part; that chain can be checked where the whole",
    "journal is.",
)
