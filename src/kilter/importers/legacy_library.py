"""Symbol libraries of legacy text schematics (.lib): where the pins of each symbol are."""

from __future__ import annotations

from kilter.importers.symbols import Symbol, SymbolPin
from kilter.importers.text_lines import TextLines, words_of

HEADER = "EESchema-LIBRARY"


def read_legacy_library(text: str, file: str) -> dict[str, Symbol]:
    """
    The symbols of a library by name and by other name, the names in the spelling of `symbol_key`.

    Raises:
        BadInput: An entry that is not closed, or a number that is none.
    """
    symbols: dict[str, Symbol] = {}
    lines = TextLines(text, file)
    for line in lines:
        words = words_of(line)
        if words and words[0] == "DEF":
            _symbol(words, lines, symbols)
    return symbols


def symbol_key(name: str) -> str:
    """
    A symbol's name as libraries of different years spell it: no tilde, one sign between library and name.

    >>> symbol_key("~Device:R"), symbol_key("Device_R")
    ('device_r', 'device_r')
    """
    return name.lstrip("~").replace(":", "_").lower()


def _symbol(words: list[str], lines: TextLines, symbols: dict[str, Symbol]) -> None:
    if len(words) < 3:
        raise lines.bad(f"'{' '.join(words)}'", "DEF with a name and a prefix")
    symbol = Symbol(words[1].lstrip("~"), power=len(words) > 9 and words[9] == "P")
    names = [symbol.name]
    for line in lines.until("ENDDEF"):
        entry = words_of(line)
        if entry and entry[0] == "ALIAS":
            names += entry[1:]
        elif entry and entry[0] == "X":
            symbol.pins.append(_pin(entry, lines))
    for name in names:
        symbols.setdefault(symbol_key(name), symbol)


def _pin(words: list[str], lines: TextLines) -> SymbolPin:
    """X name number x y length direction number-size name-size unit style type [shape]."""
    if len(words) < 12:
        raise lines.bad(f"a pin with {len(words)} words", "at least 12 words")
    x, y = lines.wholes(words[3:5], 2)
    unit, style = lines.wholes(words[9:11], 2)
    hidden = len(words) > 12 and words[12].startswith("N")
    return SymbolPin(words[2], words[1], (x, y), unit, style, words[11] == "W", hidden)
