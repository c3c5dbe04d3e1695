"""Find objects by any words in them; one folded column that both engines can look through."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

from django.db.models import QuerySet

from kilter.store.models import CollectionObject

if TYPE_CHECKING:
    from collections.abc import Iterable

MOST_WORDS = 12


def folded(text: str) -> str:
    """
    Text as a search sees it: small letters, no accents, single blanks.

    >>> folded("  Öffentliche  STRASSE é ")
    'offentliche strasse e'
    """
    parts = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(sign for sign in parts if not unicodedata.combining(sign)).split())


def search_text(texts: Iterable[str]) -> str:
    """The column, from everything said about an object."""
    return "\n".join(dict.fromkeys(folded(text) for text in texts if text))


def find_objects(words: str = "", *, state: str = "", accession: str = "") -> QuerySet[CollectionObject]:
    """
    Objects that hold all the words, by number.

    Args:
        words: Parts of words count; case and accents do not.
        state: Only objects in this state.
        accession: Only objects of this accession state.
    """
    found = CollectionObject.objects.order_by("number")
    for word in folded(words).split()[:MOST_WORDS]:
        found = found.filter(search_text__contains=word)
    if state:
        found = found.filter(state=state)
    return found.filter(accession=accession) if accession else found
