"""
Sentences with values in them, found again by their templates.

A template is a text with named places, 'no file %(name)s at %(place)s'. Among the templates that fit a sentence the one
with the most literal letters is the one meant. One that has no whole word of its own fits everything, and is never
matched; one without a longer word in small letters ('%(found)s at %(place)s', 'Cannot %(verb)s') fits only around a
sentence that is known itself.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass

PLACE = re.compile(r"%\((\w+)\)s")
WORD = re.compile(r"\w+")
LETTERS = re.compile(r"[^\W\d_]+")
LONG_WORD = re.compile(r"(?<![^\W\d_])[^\W\d_A-Z][^\W\d_]{2,}")
"""A word that makes a template known by itself."""


@dataclass(frozen=True, slots=True)
class Template:
    """
    A sentence with places.

    Args:
        pieces: Literal text before, between and behind the places; one more than there are names.
        names: Of the places, in order.
        translation: With the same names in it.
        rank: Literal letters.
        strong: It has a word long enough to be known by.
    """

    pieces: tuple[str, ...]
    names: tuple[str, ...]
    translation: str
    rank: int
    strong: bool

    def values(self, sentence: str) -> dict[str, str] | None:
        """
        What stands in the places; None where the sentence is another one.

        Each place takes as little as it can; of places that touch the first takes all. Takes time in proportion to the
        sentence's length.
        """
        first, last = self.pieces[0], self.pieces[-1]
        end = len(sentence) - len(last)
        if not (sentence.startswith(first) and sentence.endswith(last) and end >= len(first)):
            return None
        found: dict[str, str] = {}
        at = len(first)
        for number, name in enumerate(self.names):
            piece = self.pieces[number + 1]
            touching = not piece and number + 1 < len(self.names)
            behind = end if number + 1 == len(self.names) else sentence.find(piece, at, end)
            if touching:
                following = next((one for one in self.pieces[number + 1 : -1] if one), "")
                behind = sentence.find(following, at, end) if following else end
            if behind < at or found.get(name, sentence[at:behind]) != sentence[at:behind]:
                return None
            found[name] = sentence[at:behind]
            at = behind + len(piece)
        return found

    def quoted(self, name: str) -> bool:
        """Whether the place stands between quotation marks: what somebody typed or called so."""
        number = self.names.index(name)
        return self.pieces[number][-1:] in ("'", '"') and self.pieces[number + 1][:1] == self.pieces[number][-1:]


class Templates:
    """
    All of them, found by a word.

    Args:
        translations: Text or template to its translation.
    """

    def __init__(self, translations: Mapping[str, str]) -> None:
        self._exact = {plain(text): plain(said) for text, said in translations.items() if not PLACE.search(text)}
        templates = [_template(text, said) for text, said in translations.items() if PLACE.search(text)]
        known = [(one, _words(one)) for one in templates]
        often = Counter(word for _, words in known for word in words)
        self._by_word: dict[str, list[Template]] = defaultdict(list)
        for one, words in known:
            if words:
                self._by_word[min(sorted(words), key=lambda word: often[word])].append(one)

    def exact(self, sentence: str) -> str | None:
        """The translation of a sentence without places."""
        return self._exact.get(sentence)

    def find(self, sentence: str) -> tuple[Template, dict[str, str]] | None:
        """The template that fits with the most literal letters, and what stands in its places."""
        words = set(WORD.findall(sentence))
        likely = [one for word in words for one in self._by_word.get(word, ())]
        for one in sorted(likely, key=lambda one: (one.strong, one.rank), reverse=True):
            values = one.values(sentence)
            if values is not None and (one.strong or any(self.knows(value) for value in values.values())):
                return one, values
        return None

    def knows(self, sentence: str) -> bool:
        """Whether the sentence is one of these."""
        return sentence in self._exact or self.find(sentence) is not None

    def said(self, sentence: str, say: Callable[[str, str, bool], str]) -> str | None:
        """
        A sentence in the other language.

        Args:
            sentence: Of the core.
            say: How to say what stands in a place, given the place's name, its value and whether it is quoted there.
        """
        if (exact := self._exact.get(sentence)) is not None:
            return exact
        if (found := self.find(sentence)) is None:
            return None
        template, values = found
        return template.translation % {name: say(name, value, template.quoted(name)) for name, value in values.items()}


def plain(text: str) -> str:
    """A text without places as it is shown: '%%' stands for one sign."""
    return text.replace("%%", "%")


def _template(text: str, translation: str) -> Template:
    cut = PLACE.split(text)
    pieces = tuple(plain(one) for one in cut[::2])
    letters = [word for piece in pieces for word in LETTERS.findall(piece)]
    return Template(pieces, tuple(cut[1::2]), translation, sum(map(len, letters)),
                    any(LONG_WORD.search(piece) for piece in pieces))  # fmt: skip


def _words(template: Template) -> set[str]:
    """Words that stand whole between places: every sentence of the template has them."""
    last = len(template.pieces) - 1
    found = set()
    for number, piece in enumerate(template.pieces):
        for match in WORD.finditer(piece):
            cut_before = match.start() == 0 and number > 0
            cut_behind = match.end() == len(piece) and number < last
            if not cut_before and not cut_behind:
                found.add(match[0])
    return found
