"""
The netlist of a shared board: elements, and the cards that describe a circuit; no title, comment, command or file name.

What a netlist may tell a simulator to do beside the circuit (analyses, results to print or write, commands) is of no
use to others and may name people and folders, so it neither goes out nor comes in.
"""

from __future__ import annotations

import re

from kilter.measure.errors import BadInput

CARDS = frozenset(
    (".model", ".subckt", ".ends", ".param", ".params", ".func", ".global", ".temp", ".if", ".elseif", ".else",
     ".endif", ".end")
)  # fmt: skip
"""Cards that describe a circuit."""
FILES = (".inc", ".lib")
HEAD = "* shared"
LINE = re.compile(r"[ -~µμΩ]*")
COMMENT = re.compile(r";|\s\$\s|\s//")


def bare_netlist(text: str) -> str:
    """
    A SPICE netlist with nothing but its circuit.

    Raises:
        BadInput: It includes other files.

    >>> bare_netlist("Desk of N. N.\\n* by her\\nR1 a 0 1k ; bought in May\\n.print v(a)\\n+ v(b)\\n.end\\nnotes\\n")
    '* shared\\nR1 a 0 1k\\n.end\\n'
    """
    if not text:
        return ""
    lines, kept, commands = [HEAD], True, False
    for line in text.splitlines()[1:]:
        bare = COMMENT.split(line, maxsplit=1)[0].strip()
        word = bare.split(maxsplit=1)[0].lower() if bare else ""
        if word.startswith(FILES):
            raise BadInput(
                "Cannot share the netlist", f"'{bare}'", "a netlist in one file", "Put it into one file first."
            )
        commands = (commands or word == ".control") and word != ".endc"
        if not word or word.startswith("*") or commands:
            continue
        kept = kept if word.startswith("+") else _describes(word)
        if kept:
            lines.append(bare)
        if word == ".end":
            break
    return "\n".join([*lines, ""])


def first_unfit(text: str) -> str:
    """
    The first line that is no part of a circuit, '' where there is none.

    >>> first_unfit("* shared\\nR1 a 0 1k\\n.include other.cir\\n")
    '.include other.cir'
    """
    for number, line in enumerate(text.split("\n")):
        word = line.split(maxsplit=1)[0].lower() if line.strip() else ""
        head = number == 0 and line == HEAD
        if not LINE.fullmatch(line) or not (head or not word or word.startswith("+") or _describes(word)):
            return line
    return ""


def _describes(word: str) -> bool:
    """Whether a line that begins so describes the circuit: an element, or one of the cards."""
    return word in CARDS if word.startswith(".") else word[0].isalpha() and word[0].isascii()
