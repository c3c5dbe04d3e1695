"""Reads the notation of authorities/lido/lido-1.1.txt, which its head explains."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

NAME = re.compile(r"(any )?([\w:]+)([?*+]?)(?:\s*:\s*(\w+))?$")


@dataclass(frozen=True)
class Piece:
    """
    One element of a sequence.

    Args:
        often: '' just once, '?', '*', '+'.
        any: Any element of the namespace with the prefix `name`.
        kind: Name of its type; '' for one of another namespace.
        attributes: Beyond those of the type; '!' at the end of one that must be there.
        more: Elements beyond those of the type, after them.
    """

    name: str
    often: str
    any: bool = False
    kind: str = ""
    attributes: tuple[str, ...] = ()
    more: tuple[Piece, ...] = ()


@dataclass(frozen=True)
class Kind:
    """A type: words alone, or elements one after the other, `mixed` with words between them."""

    words: bool
    mixed: bool
    attributes: tuple[str, ...]
    pieces: tuple[Piece, ...] = ()


@dataclass
class Structure:
    """`attributes`: name to kind and default; `local` are those known only where they are used."""

    attributes: dict[str, tuple[str, str]] = field(default_factory=dict)
    local: set[str] = field(default_factory=set)
    kinds: dict[str, Kind] = field(default_factory=dict)
    roots: list[str] = field(default_factory=list)


def read_structure(text: str) -> Structure:
    """
    The structure.

    Raises:
        ValueError: A line that is none of those the notation has, or a type or attribute that nobody defined.
    """
    found, pieces, last = Structure(), [], ""
    for line in [*(one for one in text.splitlines() if one.strip() and not one.startswith("#")), "end"]:
        if line.startswith(" "):
            pieces.append(_piece(line))
            continue
        if pieces:
            one = found.kinds[last]
            found.kinds[last] = Kind(one.words, one.mixed, one.attributes, tuple(pieces))
            pieces = []
        word, *rest = line.split()
        if word in ("attribute", "own"):
            found.attributes[rest[0]] = (rest[1], rest[3] if len(rest) > 3 else "")
            if word == "own":
                found.local.add(rest[0])
        elif word in ("text", "type"):
            last = rest[0]
            found.kinds[last] = Kind(word == "text", "mixed" in rest[1:], _named(rest[1:]))
        elif word == "root":
            found.roots.append(rest[0])
        elif word != "end":
            raise ValueError(f"the structure has a line that is none: {line}")
    _check(found)
    return found


def _named(words: list[str]) -> tuple[str, ...]:
    return tuple(word[1:] for word in words if word.startswith("@"))


def _piece(line: str) -> Piece:
    more = tuple(_piece(word[1:]) for word in line.split() if word.startswith("&"))
    found = NAME.match(re.split(r"\s[@&]", line.strip())[0])
    if found is None:
        raise ValueError(f"the structure has an element that is none: {line}")
    return Piece(found[2], found[3], bool(found[1]), found[4] or "", _named(line.split()), more)


def _check(found: Structure) -> None:
    for name, one in found.kinds.items():
        pieces = [*one.pieces, *(more for piece in one.pieces for more in piece.more)]
        attributes = [*one.attributes, *(named for piece in pieces for named in piece.attributes)]
        lost = {piece.kind for piece in pieces if piece.kind} - set(found.kinds)
        lost |= {told.rstrip("!") for told in attributes} - set(found.attributes) - {"xml:lang"}
        if lost:
            raise ValueError(f"the structure names in {name} what it does not define: {', '.join(sorted(lost))}")
