"""Lines of an old text format, taken one after another, with their numbers for messages."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kilter.measure.errors import BadInput

WORD = re.compile(r"\"((?:[^\"\\]|\\.)*)\"|(\S+)")
LARGEST = 10**9


def words_of(line: str) -> list[str]:
    r"""
    The words of a line; a quoted one may hold spaces.

    >>> words_of('Ne 12 "a \\"b\\" c" X')
    ['Ne', '12', 'a "b" c', 'X']
    """
    return [match[2] if match[1] is None else re.sub(r"\\(.)", r"\1", match[1]) for match in WORD.finditer(line)]


class TextLines:
    """
    The lines of a text.

    Args:
        text: The whole text.
        file: Its name.
    """

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        self.lines = text.splitlines()
        self.number = 0

    def __iter__(self) -> Iterator[str]:
        while self.number < len(self.lines):
            yield self.next()

    def next(self) -> str:
        """
        The next line without spaces at its end.

        Raises:
            BadInput: The text ends here.
        """
        if self.number >= len(self.lines):
            raise self.bad("the end of the file in the middle of an entry", "whole entries")
        self.number += 1
        return self.lines[self.number - 1].rstrip()

    def until(self, end: str) -> Iterator[str]:
        """The lines before the one that begins with a word, which is taken too."""
        while not (line := self.next()).strip().startswith(end):
            yield line

    @property
    def where(self) -> str:
        """File and number of the line taken last."""
        return f"{self.file} line {max(self.number, 1)}"

    def bad(self, found: str, allowed: str) -> BadInput:
        """The error for the line taken last."""
        return BadInput(f"Cannot read {self.file}", f"{found} at {self.where}", allowed,
                        "Look for a file that was cut short or edited by hand.")  # fmt: skip

    def whole(self, word: str) -> int:
        """
        A whole number of this line.

        Raises:
            BadInput: It is none.
        """
        try:
            number = int(word)
        except ValueError:
            number = LARGEST + 1
        if abs(number) > LARGEST:
            raise self.bad(f"'{word[:40]}'", "a whole number")
        return number

    def wholes(self, words: list[str], count: int) -> list[int]:
        """
        The first few of some words as whole numbers.

        Raises:
            BadInput: There are fewer, or one is no number.
        """
        if len(words) < count:
            raise self.bad(f"{len(words)} numbers", f"{count} numbers")
        return [self.whole(word) for word in words[:count]]
