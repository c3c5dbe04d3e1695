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
from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass

PLACE = re.compile(r"%\((\w+)\)s")
WORD = re.compile(r"\w+")
LONG_WORD = re.compile(r"(?<![^\W\d_])[^\W\d_A-Z][^\W\d_]{2,}")
"""A word that makes a template known by itself."""
SENTENCE = re.compile(r"(?:^| )[^\W\d_]{2,} [^\W\d_]{2,}(?: |[,.;:]|$)")
"""Two whole words beside each other: more than a name."""
QUOTED = re.compile(r"'([^']*)'")
LIST = re.compile(r"(, |; |: |,$)")
"""Between the texts of a list."""
FOREIGN = frozenset({"reason", "code", "message", "strerror", "error"})
"""Names of places that may hold what another program said: a parser, the operating system."""
DEEPEST = 3
"""Sentences inside each other that are looked into."""
NOUN = "what\x04"
"""Before the single words of a catalogue that stand for a kind of thing, as the compiled form writes a context."""
TRIES = 6
"""Ends of a place that are looked at for a known text."""


@dataclass(frozen=True, slots=True)
class Template:
    """
    A sentence with places.

    Args:
        pieces: Literal text before, between and behind the places; one more than there are names.
        names: Of the places, in order.
        translation: With the same names in it.
        rank: Literal letters and signs.
        strong: It has a word long enough to be known by.
    """

    pieces: tuple[str, ...]
    names: tuple[str, ...]
    translation: str
    rank: int
    strong: bool

    def values(self, sentence: str, known: Container[str] = ()) -> dict[str, str] | None:
        """
        What stands in the places; None where the sentence is another one.

        Each place takes as little as it can, or what is known; of places that touch the first takes all.

        Args:
            sentence: To be taken apart.
            known: Texts that may stand whole in a place.
        """
        first, last = self.pieces[0], self.pieces[-1]
        end = len(sentence) - len(last)
        if not (sentence.startswith(first) and sentence.endswith(last) and end >= len(first)):
            return None
        found: dict[str, str] = {}
        at = len(first)
        for number, name in enumerate(self.names):
            behind = self._behind(number, sentence, at, end, known)
            if behind < at or found.get(name, sentence[at:behind]) != sentence[at:behind]:
                return None
            found[name] = sentence[at:behind]
            at = behind + len(self.pieces[number + 1])
        return found

    def _behind(self, number: int, sentence: str, at: int, end: int, known: Container[str]) -> int:
        """Where a place ends; below its beginning where it cannot."""
        if number + 1 == len(self.names):
            return end
        piece = self.pieces[number + 1]
        if not piece:
            piece = next((one for one in self.pieces[number + 1 : -1] if one), "")
            return sentence.find(piece, at, end) if piece else end
        least = behind = sentence.find(piece, at, end)
        for _ in range(TRIES):
            if behind < at or sentence[at:behind] in known:
                break
            behind = sentence.find(piece, behind + 1, end)
        return behind if behind >= at else least

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
        texts = {text: said for text, said in translations.items() if not text.startswith(NOUN)}
        self._nouns = {text.removeprefix(NOUN): said for text, said in translations.items() if text not in texts}
        self._exact = {plain(text): plain(said) for text, said in texts.items() if not PLACE.search(text)}
        templates = [_template(text, said) for text, said in texts.items() if PLACE.search(text)]
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
        """
        The template that leaves least unsaid, and of such the one with the most literal letters, with what stands in
        its places.

        A place whose own text is known counts as literal: 'the board file lamp.toml' is the board file, and no board
        that is called so.
        """
        found = self._best(sentence, DEEPEST, {})
        return (found[1], found[2]) if found else None

    def left(self, value: str) -> int:
        """
        Letters of a text that nothing is known of: none of a name, of a quoted word or of what is wholly known.

        >>> Templates({"no file": "keine Datei"}).left("no file"), Templates({}).left("no file")
        (0, 7)
        """
        return self._left(value, DEEPEST, {})

    def _best(
        self, sentence: str, depth: int, seen: dict[str, int]
    ) -> tuple[tuple[int, int], Template, dict[str, str]] | None:
        """The same, with letters that stay unsaid (counted below zero) and letters that are said."""
        words = set(WORD.findall(sentence))
        best: tuple[tuple[int, int], Template, dict[str, str]] | None = None
        for one in (one for word in words for one in self._by_word.get(word, ())):
            values = one.values(sentence, self._exact)
            if values is None:
                continue
            left = sum(self._left(value, depth - 1, seen) for name, value in values.items()
                       if name not in FOREIGN and not one.quoted(name))  # fmt: skip
            if left and not one.strong:
                continue
            known = sum(_signs(value) - 1 for value in values.values() if value in self._exact)
            rank = -left, one.rank + known
            if best is None or rank > best[0]:
                best = rank, one, values
        return best

    def _left(self, value: str, depth: int, seen: dict[str, int]) -> int:
        if not SENTENCE.search(value) or QUOTED.fullmatch(value) or value in self._exact:
            return 0
        if value not in seen:
            seen[value] = len(value)  # while it is looked into
            seen[value] = self._look_into(value, depth, seen)
        return seen[value]

    def _look_into(self, value: str, depth: int, seen: dict[str, int]) -> int:
        if not depth:
            return len(value)
        found = self._best(value, depth, seen)
        parts = [one for one in LIST.split(value) if not LIST.fullmatch(one)]
        listed = sum(self._left(one, depth - 1, seen) for one in parts) if len(parts) > 1 else len(value)
        return min(listed, len(value) if found is None else -found[0][0])

    def noun(self, word: str) -> str | None:
        """The translation of a single word that stands in a place for a kind of thing, such as a field of a form."""
        return self._nouns.get(word)

    def said(self, sentence: str, say: Callable[[str, str, bool], str]) -> str | None:
        """
        A sentence in the other language.

        Args:
            sentence: Of the core.
            say: How to say what stands in a place, given the place's name, its value and whether it is quoted there.

        Where what is said first was put into the other language, it begins with a capital as the sentence did.
        """
        if (exact := self._exact.get(sentence)) is not None:
            return exact
        if (found := self.find(sentence)) is None:
            return None
        template, values = found
        said = {name: say(name, value, template.quoted(name)) for name, value in values.items()}
        whole = template.translation % said
        first = PLACE.match(template.translation)
        begun = sentence[:1].isupper() and first is not None and said[first[1]] != values[first[1]]
        return whole[:1].upper() + whole[1:] if begun else whole


def plain(text: str) -> str:
    """A text without places as it is shown: '%%' stands for one sign."""
    return text.replace("%%", "%")


def _template(text: str, translation: str) -> Template:
    cut = PLACE.split(text)
    pieces = tuple(plain(one) for one in cut[::2])
    return Template(pieces, tuple(cut[1::2]), translation, sum(map(_signs, pieces)),
                    any(LONG_WORD.search(piece) for piece in pieces))  # fmt: skip


def _signs(text: str) -> int:
    """Letters, digits and signs of a text, blanks left out."""
    return sum(not sign.isspace() for sign in text)


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
