"""Net names of schematic programs brought to one spelling: ground, sheet prefixes and overbars."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable

from kilter.circuit.board import GROUND


def plain_overbar(name: str) -> str:
    """
    A name with its overbars written as a leading '~'.

    >>> [plain_overbar(name) for name in ("~{RESET}", "~RESET", "~RESET~", "R/~{W}", "CLK")]
    ['~RESET', '~RESET', '~RESET', 'R/~W', 'CLK']
    """
    name = re.sub(r"~\{([^{}]*)\}(?=\w)", r"~\1~", name)
    name = re.sub(r"~\{([^{}]*)\}", r"~\1", name)
    return re.sub(r"^(~[^~]+)~$", r"\1", name)


def net_spellings(names: Iterable[str]) -> dict[str, str]:
    """
    File spelling to board spelling, for all nets of one board.

    A leading '/' goes where the name stays unique; the net named GND is ground.

    >>> net_spellings(["/CLK", "GND", "/sub/~{RD}", "CLK", "/A"])
    {'/CLK': '/CLK', 'GND': '0', '/sub/~{RD}': '/sub/~RD', 'CLK': 'CLK', '/A': 'A'}
    """
    plain = {name: plain_overbar(name) for name in names}
    short = {name: word[1:] if word.count("/") == 1 and word[0] == "/" else word for name, word in plain.items()}
    uses = Counter(short.values())
    chosen = {name: word if uses[word] == 1 else plain[name] for name, word in short.items()}
    return {name: GROUND if word.upper() == "GND" else word for name, word in chosen.items()}
