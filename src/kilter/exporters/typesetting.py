"""Typesetting: templates and data into PDF with embedded fonts and tags, by the archive profile PDF/A."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from functools import cache, lru_cache
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from kilter.exporters.extras import extra
from kilter.exporters.harmless import clean
from kilter.measure.errors import BadInput

PROFILE = "a-2a"
"""ISO 19005-2, level A: fonts embedded, text that can be read aloud in order."""
DOING = "Cannot write a PDF"
LAST_PLAIN = 0x7E
"""The last sign of ASCII that is seen."""
FEW = 8
"""Signs of a block that are tried one by one."""
MOST_KEPT = 4096
"""Answers of the typesetter about signs that are remembered."""
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
    lacking = _lacking(engine, {sign for words in _words(cleaned) for sign in words if ord(sign) > LAST_PLAIN})
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


def _lacking(engine: Any, signs: Iterable[str]) -> frozenset[str]:
    """
    Those of the signs that no font holds.

    Fonts hold scripts whole or not at all, so of a full block of 256 codes three are tried. Where these lack, the rest
    of the block is taken to lack too: at worst a sign is written by its code that might have been set.
    """
    blocks: dict[int, list[str]] = {}
    for sign in sorted(signs):
        blocks.setdefault(ord(sign) // 256, []).append(sign)
    return frozenset(sign for block in blocks.values() for sign in _lacking_of(engine, block))


def _lacking_of(engine: Any, block: list[str]) -> list[str]:
    if _is_set(engine, " ".join(block)):
        return []
    if len(block) == 1:
        return block
    samples = (block[0], block[len(block) // 2], block[-1])
    if len(block) > FEW and not any(_is_set(engine, one) for one in samples):
        return block
    half = len(block) // 2
    return [*_lacking_of(engine, block[:half]), *_lacking_of(engine, block[half:])]


@lru_cache(maxsize=MOST_KEPT)
def _is_set(engine: Any, words: str) -> bool:
    """Whether the archive profile, which refuses a sign without a glyph, lets the words pass."""
    data = json.dumps(words).encode("utf-8")
    try:
        engine.compile({"main.typ": PROBE, "all.json": data}, format="pdf", pdf_standards=PROFILE, timestamp=0,
                       font_paths=_fonts(engine))  # fmt: skip
    except engine.TypstError:
        return False
    return True


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
