"""
S-expressions: nested lists of words and quoted texts, with the line where each list begins.

Quoted texts know the escapes of C; a word without quotes may hold backslashes and bars, as old files have them.
"""

from __future__ import annotations

import re

from kilter.measure.errors import BadInput

DEEPEST = 200
"""Nesting at which a text is refused."""

TOKEN = re.compile(r"[^\S\n]*(?:(\n)|([()])|\"((?:[^\"\\]|\\.)*)\"|([^\s()\"]+))", re.DOTALL)
ESCAPE = re.compile(r"\\(.)", re.DOTALL)
ESCAPES = {"n": "\n", "t": "\t", "r": "\r"}


class Form(list["Form | str"]):
    """One list: its first word is its name; `line` is where it begins."""

    __slots__ = ("line",)

    def __init__(self, line: int) -> None:
        super().__init__()
        self.line = line

    @property
    def name(self) -> str:
        """The first word, '' where there is none."""
        return self[0] if self and isinstance(self[0], str) else ""

    def forms(self, name: str) -> list[Form]:
        """The lists of that name inside this one."""
        return [one for one in self if isinstance(one, Form) and one.name == name]

    def form(self, name: str) -> Form:
        """The first list of that name, an empty one where there is none."""
        return next(iter(self.forms(name)), Form(self.line))

    def word(self, name: str) -> str:
        """The word behind the name of the first list of that name, '' where there is none."""
        found = self.form(name)
        return found[1] if len(found) > 1 and isinstance(found[1], str) else ""


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
    top = Form(1)
    stack, line, at = [top], 1, 0
    while at < len(text):
        match = TOKEN.match(text, at)
        if not match:
            if not text[at:].strip():
                break
            raise _bad(file, line, "a quoted text that does not end", "quotes in pairs", "Close the quotes.")
        newline, bracket, quoted, word = match.groups()
        at = match.end()
        if newline:
            line += 1
        elif bracket == "(":
            _open(stack, line, file)
        elif bracket == ")":
            _close(stack, line, file)
        else:
            stack[-1].append(word if quoted is None else _unescaped(quoted))
            line += match[0].count("\n") if quoted else 0
    return _only(top, stack, file)


def _open(stack: list[Form], line: int, file: str) -> None:
    if len(stack) > DEEPEST:
        raise _bad(file, line, f"lists nested deeper than {DEEPEST}", f"up to {DEEPEST} levels", "Check the file.")
    form = Form(line)
    stack[-1].append(form)
    stack.append(form)


def _close(stack: list[Form], line: int, file: str) -> None:
    if len(stack) == 1:
        raise _bad(file, line, "a ')' without its '('", "brackets in pairs", "Remove the bracket.")
    stack.pop()


def _only(top: Form, stack: list[Form], file: str) -> Form:
    if len(stack) > 1:
        raise _bad(file, stack[-1].line, f"'({stack[-1].name}' that is never closed", "brackets in pairs",
                   "Look for a file that was cut short.")  # fmt: skip
    only = top[0] if len(top) == 1 else None
    if not isinstance(only, Form):
        raise _bad(file, 1, "something else than one list", "one list in brackets", "Check that this is the file.")
    return only


def _unescaped(quoted: str) -> str:
    if "\\" not in quoted:
        return quoted
    return ESCAPE.sub(lambda match: ESCAPES.get(match[1], match[1]), quoted)


def _bad(file: str, line: int, found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput(f"Cannot read {file}", f"{found} at {file} line {line}", allowed, do_next)
