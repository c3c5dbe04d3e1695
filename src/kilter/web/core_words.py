"""The core's own sentences, such as the parts of an error, in the page's language; read when they are needed."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

from django.utils.translation import get_language

from kilter.web.compiled_catalogue import read_catalogue
from kilter.web.core_templates import Templates

LOCALE = Path(__file__).parent / "locale"
NOUNS = {"what": "", "quantity": "quantity", "quantity_key": "quantity"}
"""Names of places that hold a noun of the catalogue, quoted or not, with its context."""


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
            return sentences.noun(value) or noun(value, NOUNS[name])
        return value if quoted else say(value)

    sentences = core_sentences()
    return sentences.said(sentence, in_place)


@cache
def _of(language: str) -> Templates:
    path = LOCALE / language / "LC_MESSAGES" / "core.mo"
    return Templates(read_catalogue(path) if path.is_file() else {})
