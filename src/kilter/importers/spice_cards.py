"""
One line of a SPICE netlist taken apart into its name, its words and its `key=value` settings.

Braced and quoted expressions stay whole; parentheses and commas elsewhere only separate.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from kilter.importers.spice_lines import Line
from kilter.measure.errors import BadInput

ASSIGNMENT = re.compile(r"\{[^{}]*\}|'[^']*'|\"[^\"]*\"|(?<![\w.<>!=])(?P<name>[^\W\d][\w.]*)\s*=(?!=)")
WORD = re.compile(r"\{[^{}]*\}|'[^']*'|\"[^\"]*\"|[^\s,(){}'\"]+|(?P<stray>[{}'\"])")


@dataclass(frozen=True, slots=True)
class Card:
    """
    A line in pieces.

    Args:
        line: Where it stands.
        words: Everything before the first setting, the name first.
        settings: Lower-case key to its text, braces and quotes still on where there are any.
    """

    line: Line
    words: tuple[str, ...]
    settings: Mapping[str, str]

    @property
    def name(self) -> str:
        """The first word as written."""
        return self.words[0]


def card_of(line: Line) -> Card:
    """
    Take a line apart; a bare word after a setting counts as a word ('area=2 off').

    >>> card = card_of(Line("D1 a (k) dmod area = {2*n} off", "x.cir", 3))
    >>> card.words, dict(card.settings)
    (('D1', 'a', 'k', 'dmod', 'off'), {'area': '{2*n}'})
    """
    head, settings = assignments(line.text)
    words = _words(head, line)
    if not words:
        raise bad_card(line, f"'{line.text[:60]}'", "an element line that starts with the element's name",
                       "Write the name, or remove the line.")  # fmt: skip
    kept = {}
    for key, text in settings.items():
        pieces = _words(text, line)
        if not pieces:
            raise bad_card(line, f"'{key} =' with nothing after it", "a value after the '='", "Write the value.")
        kept[key] = pieces[0]
        words += [word for word in pieces[1:] if not re.match(r"[-+.\d]", word) and word.lower() != "params:"]
    return Card(line, tuple(words), kept)


def assignments(text: str) -> tuple[str, dict[str, str]]:
    """
    The text before the first `name =` and the text after each, by lower-case name.

    >>> assignments(".param a=2 b = {a*3} c='a == b'")
    ('.param ', {'a': '2', 'b': '{a*3}', 'c': "'a == b'"})
    """
    starts = [match for match in ASSIGNMENT.finditer(text) if match["name"]]
    ends = [match.start() for match in starts[1:]] + [len(text)]
    found = {
        start["name"].lower(): text[start.end() : end].strip().rstrip(",").strip()
        for start, end in zip(starts, ends, strict=False)
    }
    return text[: starts[0].start()] if starts else text, found


def expression_inside(text: str) -> str:
    """The text without its braces or quotes: '{2*r}' gives '2*r'."""
    text = text.strip()
    paired = len(text) > 1 and (text[0], text[-1]) in (("{", "}"), ("'", "'"), ('"', '"'))
    return text[1:-1].strip() if paired else text


def bad_card(line: Line, found: str, allowed: str, do_next: str) -> BadInput:
    """The error for one line, with its place."""
    return BadInput("Cannot read the netlist", f"{found} at {line.place}", allowed, do_next)


def _words(text: str, line: Line) -> list[str]:
    words = []
    for match in WORD.finditer(text):
        if match["stray"]:
            raise bad_card(line, f"a '{match['stray']}' without its partner", "paired braces and quotes",
                           "Close the brace or the quote.")  # fmt: skip
        words.append(match[0])
    return words
