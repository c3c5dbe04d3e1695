"""Names of buses: vectors such as D[0..7], groups such as MEM{A[0..15] ~{WR}}, and their members."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice

MOST = 4096
"""Members beyond which a name is taken as text, not as a bus."""
DEEPEST = 5
"""Groups inside groups."""
LONGEST = 2000
"""Letters of a name beyond which it is text."""

VECTOR = re.compile(r"(?P<stem>[^\s\[\]{}]*(?:~\{[^{}]*\})?[^\s\[\]{}]*)\[(?P<first>\d{1,6})\.\.(?P<last>\d{1,6})\]"
                    r"(?P<tail>\S*)")  # fmt: skip
GROUP = re.compile(r"(?P<stem>[^\s{}\[\]]*)\{(?P<inside>.*)\}", re.DOTALL)

Aliases = Mapping[str, Sequence[str]]
"""Name of a group to its members."""


def bus_members(name: str, aliases: Aliases | None = None) -> tuple[str, ...]:
    """
    The nets that a bus of that name stands for; empty where the name is that of one net.

    An overbar, ~{RESET}, is no group: a group's opening brace has no tilde before it.

    >>> bus_members("D[2..0]"), bus_members("M{A[0..1] ~{WR}}"), bus_members("~{RESET}")
    (('D0', 'D1', 'D2'), ('M.A0', 'M.A1', 'M.~{WR}'), ())
    """
    if len(name) > LONGEST or ("[" not in name and "{" not in name):
        return ()
    members = tuple(islice(_members(name, aliases or {}, 0), MOST + 1))
    return () if members == (name,) or len(members) > MOST else members


def _members(name: str, aliases: Aliases, depth: int) -> Iterator[str]:
    """The members one after another, so that a name which stands for very many is soon given up."""
    vector = VECTOR.fullmatch(name[:LONGEST])
    group = GROUP.fullmatch(name[:LONGEST])
    words = _words(group["inside"]) if group and not group["stem"].endswith("~") and depth <= DEEPEST else []
    if vector:
        low, high = sorted((int(vector["first"]), int(vector["last"])))
        yield from (f"{vector['stem']}{number}{vector['tail']}" for number in range(low, high + 1))
    elif group and words:
        prefix = group["stem"] + "." if group["stem"] else ""
        for word in words:
            for one in aliases.get(word, (word,)):
                yield from (prefix + member for member in _members(one, aliases, depth + 1))
    else:
        yield name


def is_vector(name: str) -> bool:
    """Whether a name is a vector, whose members are told by their place rather than by their name."""
    return VECTOR.fullmatch(name) is not None


def matched(own: Sequence[str], other: Sequence[str], *, in_order: bool) -> list[tuple[str, str]]:
    """
    Members of two buses that are drawn as one.

    Args:
        own: Members of the one.
        other: Members of the other.
        in_order: Both are vectors.

    >>> matched(("A8", "A9"), ("D0", "D1"), in_order=True)
    [('A8', 'D0'), ('A9', 'D1')]
    >>> matched(("CLK", "WR"), ("WR", "RD", "CLK"), in_order=False)
    [('CLK', 'CLK'), ('WR', 'WR')]
    """
    shared = [name for name in own if name in set(other)]
    if in_order or not shared:
        return list(zip(own, other, strict=False))
    return [(name, name) for name in shared]


def _words(inside: str) -> list[str]:
    """The members of a group, parted by spaces outside braces."""
    words, depth, word = [], 0, ""
    for letter in inside:
        depth += (letter == "{") - (letter == "}")
        if letter.isspace() and depth == 0:
            words.append(word)
            word = ""
        else:
            word += letter
    return [one for one in (*words, word) if one]
