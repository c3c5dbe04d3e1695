"""Filters that say the core's words in the page's language."""

from __future__ import annotations

from django import template

from kilter.measure.instruments import instruments
from kilter.measure.tables import table
from kilter.web.spoken import asked_in_words, sentence_in_words
from kilter.web.spoken import by_locale as figures_by_locale
from kilter.web.spoken import in_words as said_in_words

register = template.Library()


@register.filter
def in_words(text: object, context: str = "") -> str:
    """Fixed words or a fixed form of sentence, translated; see `kilter.web.spoken`."""
    return said_in_words(text, context)


@register.filter
def in_sentence(text: object) -> str:
    """A part of an error, translated where it comes from the core."""
    return sentence_in_words(text)


@register.filter
def asked(text: str) -> str:
    """A point with its quantity, the quantity translated."""
    return asked_in_words(text)


@register.filter
def by_locale(text: object) -> str:
    """Figures with the decimal sign of the language."""
    return figures_by_locale(str(text))


@register.filter
def with_what(key: str) -> str:
    """An instrument of the record in words; a name that the table lacks stays as written."""
    known = instruments().get(key)
    return said_in_words(known.words) if known else key


@register.filter
def in_grade(grade: int) -> str:
    """An intervention grade with what it means, as '2, touched with a probe'; other numbers stay as they are."""
    words = {row["grade"]: row["words"] for row in table("records/grades")["grades"]}
    return f"{grade}, {said_in_words(words[grade])}" if grade in words else str(grade)
