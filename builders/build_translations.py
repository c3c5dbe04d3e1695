"""
Collects what the pages and the core say, brings both catalogues of every language up to date, and compiles them.

Run: python builders/build_translations.py            (writes the .po and .mo files; tells what is missing)
     python builders/build_translations.py --check    (writes nothing; exit code 1 where something is missing)

No GNU gettext is needed. What is no longer shown leaves the catalogue, and is printed, so that a text that was only
reworded can be carried over by hand. docs/pages-languages.md tells how to add a language.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
from collections import defaultdict
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from messages.message import Message

ROOT = Path(__file__).resolve().parents[1]
WEB = ROOT / "src" / "kilter" / "web"
LOCALE = WEB / "locale"
PLURALS = re.compile(r"nplurals=(\d)")
NAMES = re.compile(r"%\((\w+)\)s|%s")


def open_pages() -> None:
    """Opens the framework on an empty data folder, unless somebody opened it already."""
    from kilter.store.start import start_store

    os.environ.setdefault("KILTER_HOME", tempfile.mkdtemp(prefix="kilter-translations-"))
    start_store("kilter.web.settings")


def collected() -> dict[Message, set[str]]:
    """Every message with the places that show it."""
    from messages.in_code import in_code
    from messages.in_data import in_data
    from messages.in_source import in_module, in_template

    found: dict[Message, set[str]] = defaultdict(set)
    for path in sorted(WEB.rglob("*.html")):
        for message in in_template(path):
            found[message].add(path.relative_to(ROOT).as_posix())
    for path in sorted(WEB.rglob("*.py")):
        for message in in_module(path):
            found[message].add(path.relative_to(ROOT).as_posix())
    for place, message in (*in_code(), *in_data()):
        found[message].add(place)
    return dict(found)


def collected_of_core() -> dict[Message, set[str]]:
    """Every sentence of the core that a page can show, as a template, with the files that say it."""
    from messages.in_core import in_core
    from messages.message import Message

    found = {}
    for template, places in in_core(ROOT / "src").items():
        context, _, text = template.rpartition("\x04")
        found[Message(text, context=context)] = places
    return found


CATALOGUES = {"django": collected, "core": collected_of_core}
"""Name of a catalogue's files to what collects its messages."""


def faults(message: Message, forms: tuple[str, ...]) -> list[str]:
    """What is wrong with a translation: a form that is empty, or names in it that the original does not have."""
    if not forms or not all(forms):
        return [f"missing: {message.text!r}" + (f" ({message.context})" if message.context else "")]
    wanted = sorted({match[0] for text in (message.text, message.plural) for match in NAMES.finditer(text)})
    for form in forms:
        if sorted({match[0] for match in NAMES.finditer(form)}) != wanted:
            return [f"other names in the translation: {message.text!r}: {form!r}"]
        if form[:1].isspace() != message.text[:1].isspace() or form[-1:].isspace() != message.text[-1:].isspace():
            return [f"blanks around the translation differ: {message.text!r}: {form!r}"]
    return []


def main() -> int:
    """Brings every language up to date."""
    parser = argparse.ArgumentParser(description="Collect, merge and compile what the pages say.")
    parser.add_argument("--check", action="store_true", help="write nothing; exit code 1 where something is missing")
    chosen = parser.parse_args()
    open_pages()
    from messages import mo_file, po_file

    bad = 0
    for name, collect in CATALOGUES.items():
        places = collect()
        wanted = sorted(places)
        for path in sorted(LOCALE.glob(f"*/LC_MESSAGES/{name}.po")):
            catalogue = po_file.read(path.read_text("utf-8"))
            told = [fault for one in wanted for fault in faults(one, catalogue.forms.get(one, ()))]
            told += [f"no longer shown: {one.text!r}" for one in sorted(set(catalogue.forms) - set(wanted))]
            bad += len(told)
            print(f"{path.parts[-3]}, {name}: {len(wanted)} messages, {len(told)} to look at")
            print("".join(f"  {one}\n" for one in told), end="")
            if not chosen.check:
                plurals = PLURALS.search(catalogue.header)
                count = int(plurals[1]) if plurals else 2
                path.write_text(po_file.written(catalogue, places, wanted, count), "utf-8", newline="\n")
                kept = {one: catalogue.forms[one] for one in wanted if one in catalogue.forms}
                path.with_suffix(".mo").write_bytes(mo_file.compiled(catalogue.header, kept))
    return 1 if bad and chosen.check else 0


if __name__ == "__main__":
    sys.exit(main())
