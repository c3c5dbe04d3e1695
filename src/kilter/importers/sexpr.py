"""
S-expressions: nested lists of words and quoted texts, with the line where each list begins.

Quoted texts know the escapes of C; a word without quotes may hold backslashes and bars, as old files have them.
Large boards hold more than a million words, so the loop is kept bare and a line is looked for only when it is asked.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from itertools import islice

from kilter.measure.errors import BadInput

DEEPEST = 200
"""Nesting at which a text is refused."""

TOKEN = re.compile(r"\"(?:[^\"\\]|\\.)*\"|[()\"]|[^\s()\"]+", re.DOTALL)
ESCAPE = re.compile(r"\\(.)", re.DOTALL)
ESCAPES = {"n": "\n", "t": "\t", "r": "\r"}


class Text:
    """The text that lists come from; tells the line of a token by its number."""

    def __init__(self, text: str, file: str) -> None:
        self.text, self.file = text, file
        self.starts: list[int] = []
        self.newlines: list[int] = []
        self.ahead = TOKEN.finditer(text)

    def line(self, token: int) -> int:
        """The line where token number `token` begins, from 1; tokens are looked through no further than that."""
        if not self.newlines:
            self.newlines = [match.start() for match in re.finditer(r"\n", self.text)]
        self.starts += [match.start() for match in islice(self.ahead, max(0, token + 1 - len(self.starts)))]
        return bisect_right(self.newlines, self.starts[token]) + 1 if token < len(self.starts) else 1


class Form(list["Form | str"]):
    """One list: its first word is its name."""

    __slots__ = ("source", "token")

    source: Text
    token: int

    @property
    def line(self) -> int:
        """The line where the list begins."""
        return self.source.line(self.token)

    @property
    def name(self) -> str:
        """The first word, '' where there is none."""
        return self[0] if self and isinstance(self[0], str) else ""

    def forms(self, name: str) -> list[Form]:
        """The lists of that name inside this one."""
        return [one for one in self if isinstance(one, Form) and one and one[0] == name]

    def form(self, name: str) -> Form:
        """The first list of that name, an empty one where there is none."""
        for one in self:
            if isinstance(one, Form) and one and one[0] == name:
                return one
        return _form(self.source, self.token)

    def word(self, name: str) -> str:
        """The word behind the name of the first list of that name, '' where there is none."""
        return self.form(name).at(1)

    def at(self, place: int) -> str:
        """The word at a place of this list, '' where there is none."""
        found = self[place] if len(self) > place else ""
        return found if isinstance(found, str) else ""


def read_form(text: str, file: str) -> Form:
    """
    The one list that a text holds.

    Args:
        text: The whole text.
        file: Its name, for messages.

    Raises:
        BadInput: No list, one that is not closed, something after its end, or nesting deeper than DEEPEST.

    >>> form = read_form('(net (code 1) (name "/A\\\\"B") (node (ref R1)))', "x.net")
    >>> form.word("name"), form.form("node").word("ref"), form.line
    ('/A"B', 'R1', 1)
    """
    source = Text(text, file)
    inside = top = _form(source, 0)
    around: list[Form] = []
    for token, word in enumerate(TOKEN.findall(text)):
        if word == "(":
            form = Form()
            form.source, form.token = source, token
            inside.append(form)
            around.append(inside)
            inside = form
            if len(around) > DEEPEST:
                raise _bad(source, token, f"lists nested deeper than {DEEPEST}", f"up to {DEEPEST} levels")
        elif word == ")":
            if not around:
                raise _bad(source, token, "a ')' without its '('", "brackets in pairs")
            inside = around.pop()
        elif word[0] == '"':
            if word == '"':
                raise _bad(source, token, "a quoted text that does not end", "quotes in pairs")
            inside.append(_unescaped(word[1:-1]))
        else:
            inside.append(word)
    if around:
        raise _bad(source, inside.token, f"'({inside.name}' that is never closed", "brackets in pairs")
    return _only(top)


def _form(source: Text, token: int) -> Form:
    form = Form()
    form.source, form.token = source, token
    return form


def _only(top: Form) -> Form:
    only = top[0] if len(top) == 1 else None
    if not isinstance(only, Form):
        raise _bad(top.source, 0, "something else than one list", "one list in brackets")
    return only


def _unescaped(quoted: str) -> str:
    if "\\" not in quoted:
        return quoted
    return ESCAPE.sub(lambda match: ESCAPES.get(match[1], match[1]), quoted)


def _bad(source: Text, token: int, found: str, allowed: str) -> BadInput:
    place = f"{source.file} line {source.line(token)}"
    return BadInput(f"Cannot read {source.file}", f"{found} at {place}", allowed,
                    "Look for a file that was cut short, or that is another one than was meant.")  # fmt: skip
