"""What of a part of an error is in no catalogue: looked up, not guessed from its words."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from django.utils.translation import override

from kilter.web.compiled_catalogue import read_catalogue
from kilter.web.core_templates import FOREIGN, LIST, QUOTED, SENTENCE, Templates
from kilter.web.core_words import LOCALE, NOUNS, core_sentences
from kilter.web.spoken import FORMS, LOOSE_FORMS


@cache
def _pages(language: str) -> tuple[Templates, Templates]:
    """What the pages' own catalogue says, from English and from the language, which the pages' own errors speak."""
    told = read_catalogue(Path(LOCALE) / language / "LC_MESSAGES" / "django.mo")
    texts = {one.rpartition("\x04")[2].split("\0")[0]: other.split("\0")[0] for one, other in told.items()}
    return Templates(texts), Templates({other: one for one, other in texts.items() if other})


def english_left(text: str, language: str = "de", names: tuple[str, ...] = ()) -> list[str]:
    """
    The pieces that nothing is known of.

    Args:
        text: A part of an error, or what stands in a place of one.
        language: Of the page.
        names: What things are called in the record; nobody translates it.
    """
    for name in names:
        text = text.replace(name, "X1")
    if not SENTENCE.search(text) or QUOTED.fullmatch(text):
        return []
    left: list[str] = [text]
    with override(language):
        for known in (core_sentences(), *_pages(language)):
            if known.exact(text) is not None:
                return []
            if (found := known.find(text)) is not None:
                template, values = found
                left = [one for name, value in values.items()
                        if not template.quoted(name) and name not in NOUNS and name not in FOREIGN
                        for one in english_left(value, language)]  # fmt: skip
                if not left:
                    return []
        if any(form.fullmatch(text) for form, _ in FORMS + LOOSE_FORMS):
            return []
    first, joined, rest = text.partition(": ")
    if joined and english_left(first, language) == []:
        return english_left(rest, language)
    parts = [one for one in LIST.split(text) if one and not LIST.fullmatch(one)]
    return [piece for one in parts for piece in english_left(one, language)] if len(parts) > 1 else left
