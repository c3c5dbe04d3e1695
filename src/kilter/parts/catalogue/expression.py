"""Boolean expressions of the catalogue: names joined by ~ & ^ | and brackets, binding in this order."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

TOKEN = re.compile(r"\s*(/?[A-Za-z0-9]+|[~&^|()])")
OPERATORS = (("|", "or"), ("^", "xor"), ("&", "and"))
"""Weakest first, each with its gate kind."""


@dataclass(frozen=True, slots=True)
class Expression:
    """
    A node of the tree.

    Args:
        kind: 'name', 'not', 'and', 'or' or 'xor'.
        parts: What it joins.
        name: Of a pin or an inner node.
    """

    kind: str
    parts: tuple[Expression, ...] = ()
    name: str = ""

    def names(self) -> Iterator[str]:
        """Every name in it, from left to right; a name that comes twice is said twice."""
        if self.name:
            yield self.name
        for part in self.parts:
            yield from part.names()

    def plain(self) -> tuple[str, bool] | None:
        """The name and whether it is inverted, for a lone name or an inverted one; None for anything larger."""
        inner = self.parts[0] if self.kind == "not" else self
        return (inner.name, self.kind == "not") if inner.kind == "name" else None


def expression(text: str) -> Expression:
    """
    The tree of a written expression.

    Raises:
        ValueError: It cannot be read.

    >>> tree = expression("~(1A & /OE) | x")
    >>> tree.kind, tree.parts[0].kind, list(tree.names())
    ('or', 'not', ['1A', '/OE', 'x'])
    """
    tokens, place = [], 0
    text = text.strip()
    while place < len(text):
        match = TOKEN.match(text, place)
        if not match:
            raise ValueError(f"cannot read '{text[place:]}' in the expression '{text}'")
        tokens.append(match[1])
        place = match.end()
    tree, rest = _joined(tokens, 0)
    if rest:
        raise ValueError(f"'{rest[0]}' is left over in the expression '{text}'")
    return tree


def _joined(tokens: list[str], level: int) -> tuple[Expression, list[str]]:
    if level == len(OPERATORS):
        return _single(tokens)
    sign, kind = OPERATORS[level]
    first, rest = _joined(tokens, level + 1)
    parts = [first]
    while rest and rest[0] == sign:
        part, rest = _joined(rest[1:], level + 1)
        parts.append(part)
    return (Expression(kind, tuple(parts)) if len(parts) > 1 else first), rest


def _single(tokens: list[str]) -> tuple[Expression, list[str]]:
    if not tokens:
        raise ValueError("the expression ends too early")
    token, rest = tokens[0], tokens[1:]
    if token == "~":
        inner, rest = _single(rest)
        return Expression("not", (inner,)), rest
    if token == "(":
        inner, rest = _joined(rest, 0)
        if not rest or rest[0] != ")":
            raise ValueError("a bracket is not closed")
        return inner, rest[1:]
    if not token.strip("/").isalnum():
        raise ValueError(f"'{token}' stands where a name should be")
    return Expression("name", name=token), rest
