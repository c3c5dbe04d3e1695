"""The core's own sentences, such as the parts of an error, in the page's language; read when they are needed."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

from django.utils.translation import get_language, gettext

from kilter.web.compiled_catalogue import read_catalogue
from kilter.web.core_templates import Templates

LOCALE = Path(__file__).parent / "locale"
NOUNS = {"what": "", "quantity": "quantity", "quantity_key": "quantity"}
"""Names of places that hold a noun of the catalogue, quoted or not, with its context."""
QUOTED = re.compile(r"'([^']*)'")


def core_sentences() -> Templates:
    """Those of the language of the page; none in English."""
    return _of((get_language() or "en").partition("-")[0])


def say_sentence(sentence: str, say: Callable[[str], str], noun: Callable[[str, str], str]) -> str | None:
    """
    A sentence of the core in the page's language; None where the catalogue has none like it.

    Args:
        sentence: As the core built it.
        say: How to say what stands in its places, unless it is quoted: that was typed, or is a name, and stays.
        noun: How to say what stands in a place of NOUNS, given its context: a field of a form, a kind of thing.
    """

    def in_place(name: str, value: str, quoted: bool) -> str:
        if name in NOUNS:
            return noun(value, NOUNS[name])
        return value if quoted else quoted_as_here(value, say)

    return core_sentences().said(sentence, in_place)


def quoted_as_here(value: str, say: Callable[[str], str]) -> str:
    """What stands in a place: a quoted word gets the language's own quotation marks, anything else is said."""
    if match := QUOTED.fullmatch(value):
        return gettext("'%(text)s'") % {"text": match[1]}
    return value if value.startswith(("'", '"')) else say(value)


@cache
def _of(language: str) -> Templates:
    path = LOCALE / language / "LC_MESSAGES" / "core.mo"
    return Templates(read_catalogue(path) if path.is_file() else {})
