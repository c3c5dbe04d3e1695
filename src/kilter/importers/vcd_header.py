"""The head of a VCD file (IEEE 1364-2005, clause 18): time scale, and which identifier is which line."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from kilter.measure.errors import BadInput

SECONDS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "ps": 1e-12, "fs": 1e-15}
STEPS = ("1", "10", "100")
REAL_TYPES = ("real", "realtime")
LEFT_OUT = ("string",)
WIDEST = 64
"""Lines of a bus that are kept as one word."""

END_OF_HEAD = re.compile(rb"\$enddefinitions\s+\$end")


@dataclass(frozen=True)
class Variable:
    """
    One declared variable.

    Args:
        names: Its name with scopes, and those of its aliases.
        width: Bits.
        real: Whether it is a real number.
    """

    names: tuple[str, ...]
    width: int
    real: bool = False


@dataclass
class Header:
    """What the head declares: length of a tick [s], variables by identifier, and what was left out."""

    tick: float = 0.0
    variables: dict[bytes, Variable] = field(default_factory=dict)
    left_out: set[bytes] = field(default_factory=set)
    warnings: list[str] = field(default_factory=list)


def read_header(text: bytes, file: str) -> Header:
    """
    Reads everything up to $enddefinitions.

    Raises:
        BadInput: No time scale, no variable, or a declaration that cannot be understood.
    """
    header, scopes = Header(), list[str]()
    for words in _sections(text.decode("latin-1").split(), file):
        keyword, rest = words[0], words[1:]
        if keyword == "$timescale":
            header.tick = _tick("".join(rest), file)
        elif keyword == "$scope":
            scopes.append(rest[-1] if rest else "")
        elif keyword == "$upscope" and scopes:
            scopes.pop()
        elif keyword == "$var":
            _declare(header, rest, scopes, file)
    if not header.tick:
        raise _bad(file, "no $timescale", "'$timescale 10 ns $end' and the like",
                   "Export the capture again with its time scale.")  # fmt: skip
    if not header.variables:
        raise _bad(file, "no line that is declared and can be used", "$var declarations", "Export with some lines.")
    return header


def _sections(words: list[str], file: str) -> list[list[str]]:
    """Keyword and words of each section, without its $end."""
    sections: list[list[str]] = []
    open_section: list[str] | None = None
    for word in words:
        if word == "$end":
            if open_section is not None:
                sections.append(open_section)
            open_section = None
        elif open_section is not None:
            open_section.append(word)
        elif word.startswith("$"):
            open_section = [word]
        else:
            raise _bad(file, f"the word '{word[:40]}' between the declarations", "sections from $keyword to $end",
                       "Check that this is a VCD file.")  # fmt: skip
    return sections


def _tick(words: str, file: str) -> float:
    match = re.fullmatch(r"(\d+)(\w+)", words)
    if match is None or match[1] not in STEPS or match[2] not in SECONDS:
        raise _bad(file, f"the time scale '{words[:40]}'", f"{', '.join(STEPS)} with {', '.join(SECONDS)}",
                   "Export the capture again, or correct the $timescale line.")  # fmt: skip
    return int(match[1]) * SECONDS[match[2]]


def _declare(header: Header, words: list[str], scopes: list[str], file: str) -> None:
    """One $var section: type, size, identifier, name, and perhaps a range."""
    if len(words) < 4 or not words[1].isdigit() or len(words[1]) > 6:
        raise _bad(file, f"the declaration '$var {' '.join(words)[:60]}'", "type, size, identifier and name",
                   "Correct the declaration or export again.")  # fmt: skip
    kind, width, identifier = words[0], max(int(words[1]), 1), words[2].encode("latin-1")
    name = ".".join([*filter(None, scopes), _named(words[3:], width)])
    if kind in LEFT_OUT or (kind not in REAL_TYPES and width > WIDEST):
        header.left_out.add(identifier)
        why = f"a {kind}" if kind in LEFT_OUT else f"{width} bits wide where up to {WIDEST} are kept"
        header.warnings.append(f"{name} is left out: it is {why}.")
        return
    known = header.variables.get(identifier)
    if known is not None and known.width != width:
        raise _bad(file, f"the identifier '{words[2][:20]}' for {known.names[0]} of {known.width} bits and for {name} "
                   f"of {width}", "one width for each identifier", "Export the capture again.")  # fmt: skip
    names = (*known.names, name) if known else (name,)
    header.variables[identifier] = Variable(tuple(dict.fromkeys(names)), width, kind in REAL_TYPES)


def _named(words: list[str], width: int) -> str:
    """The name; a range of a whole bus is dropped from it, the place of a single line is kept."""
    name = "".join(words)
    return re.sub(r"\[\d+:\d+\]$", "", name) if width > 1 else name


def _bad(file: str, found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput(f"Cannot read the logic capture {file}", f"{found} in the head of {file}", allowed, do_next)
