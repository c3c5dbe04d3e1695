"""Typesetting: templates and data into PDF with embedded fonts and tags, by the archive profile PDF/A."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from kilter.exporters.extras import extra
from kilter.exporters.harmless import clean
from kilter.measure.errors import BadInput

PROFILE = "a-2a"
"""ISO 19005-2, level A: fonts embedded, text that can be read aloud in order."""
MOST_TRIES = 200
"""Characters of which the fonts may lack each."""
DOING = "Cannot write the report as PDF"
LACKING = re.compile(r'the text `"(.+?)"` could not be displayed', re.DOTALL)
ESCAPE = re.compile(r"\\u\{([0-9a-fA-F]+)\}")
PROBE = b'#set document(title: "x")\n#set text(font: ("Libertinus Serif", "DejaVu Sans Mono"))\n#json("all.json")\n'


def typeset(template: str, data: Any, pictures: Mapping[str, bytes], made_at: str) -> bytes:
    """
    A PDF.

    Args:
        template: Name of the file beside this module.
        data: Plain data for it; every word in it is cleaned, and characters that no font here holds are written by
            their code, as [U+6F22].
        pictures: By file name, as the data name them.
        made_at: Time that is written into the file, so that the same report gives the same bytes; '' for none.

    Raises:
        NotAvailable: The typesetter is not installed.
        BadInput: It refuses.
    """
    engine = extra("typst", DOING)
    cleaned = _map_words(data, clean)
    lacking = _lacking(engine, sorted({sign for words in _words(cleaned) for sign in words if ord(sign) > 0x7E}))
    shown = _map_words(cleaned, lambda words: _by_code(words, lacking)) if lacking else cleaned
    named = {template: files("kilter.exporters").joinpath(template).read_bytes(),
             template.replace(".typ", ".json"): json.dumps(shown).encode("utf-8"), **pictures}  # fmt: skip
    try:
        with TemporaryDirectory(prefix="kilter-") as folder:
            for name, content in named.items():
                (Path(folder) / name).write_bytes(content)
            made: bytes = engine.compile(Path(folder) / template, root=folder, format="pdf", pdf_standards=PROFILE,
                                         timestamp=_stamp(made_at), font_paths=_fonts(engine))  # fmt: skip
    except engine.TypstError as error:
        raise BadInput(DOING, f"an objection of the typesetter: {clean(error.message)[:300]}",
                       "text and pictures that it can set", "Write the report as HTML instead.") from None  # fmt: skip
    return made


@cache
def _fonts(engine: Any) -> Any:
    """The typesetter's own fonts first; those of the machine for scripts that they lack."""
    return engine.Fonts(include_system_fonts=True, include_embedded_fonts=True)


def _stamp(made_at: str) -> int:
    try:
        return int(datetime.fromisoformat(made_at).astimezone(UTC).timestamp())
    except ValueError:
        return 0


def _lacking(engine: Any, signs: list[str]) -> frozenset[str]:
    """Those of the signs that no font holds: the archive profile refuses to set them, one after another."""
    lacking: set[str] = set()
    left = signs
    for _ in range(MOST_TRIES):
        if not left:
            break
        try:
            engine.compile({"main.typ": PROBE, "all.json": json.dumps(" ".join(left)).encode("utf-8")}, format="pdf",
                           pdf_standards=PROFILE, timestamp=0, font_paths=_fonts(engine))  # fmt: skip
            break
        except engine.TypstError as error:
            found = LACKING.search(error.message)
            refused = set(ESCAPE.sub(lambda code: chr(int(code[1], 16)), found[1])) & set(left) if found else set(left)
        lacking |= refused
        left = [sign for sign in left if sign not in refused] if refused else []
    else:
        lacking |= set(left)
    return frozenset(lacking)


def _by_code(words: str, lacking: frozenset[str]) -> str:
    return "".join(f"[U+{ord(sign):04X}]" if sign in lacking else sign for sign in words)


def _words(data: Any) -> Iterable[str]:
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        for one in data.values():
            yield from _words(one)
    elif isinstance(data, (list, tuple)):
        for one in data:
            yield from _words(one)


def _map_words(data: Any, change: Any) -> Any:
    if isinstance(data, str):
        return change(data)
    if isinstance(data, dict):
        return {key: _map_words(one, change) for key, one in data.items()}
    if isinstance(data, (list, tuple)):
        return [_map_words(one, change) for one in data]
    return data
