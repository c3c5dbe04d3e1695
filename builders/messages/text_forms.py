"""
Expressions of Python that build a text, as the templates of all texts that they can give.

A template is the text with a named place for every value in it, as a catalogue writes it: 'row %(number)s of %(path)s'.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from itertools import product

MOST = 48
"""Ways of one expression that are followed; beyond them a choice becomes a place."""
PLACE = re.compile(r"%\((\w+)\)s")


class Form(tuple["str | ast.expr", ...]):
    """One way that a text can come out: literal pieces, and the expressions whose values stand between them."""

    __slots__ = ()

    def template(self) -> str:
        """The text with named places; the same name twice only where the same expression stands twice."""
        named: dict[str, str] = {}
        written = ""
        for piece in self:
            if isinstance(piece, str):
                written += piece.replace("%", "%%")
            else:
                written += f"%({_free_name(piece, named)})s"
        return written

    def places(self) -> Iterator[ast.expr]:
        """The expressions whose values stand in the text."""
        return (piece for piece in self if not isinstance(piece, str))


def forms(node: ast.expr) -> list[Form]:
    """
    Every way that an expression's text can come out.

    Choices ('a if x else b', 'a or b') are followed, texts that stand beside each other or are added are joined; what
    is none of these is one place.
    """
    if isinstance(node, ast.Constant):
        return [Form((node.value,) if isinstance(node.value, str) else (str(node.value),))]
    if isinstance(node, ast.JoinedStr):
        return _joined([_piece(value) for value in node.values], node)
    if isinstance(node, ast.IfExp):
        return [*forms(node.body), *forms(node.orelse)]
    if isinstance(node, ast.BoolOp) and isinstance(node.op, ast.Or):
        return [form for value in node.values for form in forms(value)]
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return _joined([forms(node.left), forms(node.right)], node)
    return [Form((node,))]


def _piece(value: ast.expr) -> list[Form]:
    """The ways of one piece of an f-string: a choice among fixed words is followed, any other value is a place."""
    if isinstance(value, ast.FormattedValue):
        if value.conversion == -1 and value.format_spec is None and isinstance(value.value, ast.IfExp | ast.JoinedStr):
            return forms(value.value)
        return [Form((value,))]
    return forms(value)


def _joined(parts: list[list[Form]], node: ast.expr) -> list[Form]:
    count = 1
    for part in parts:
        count *= len(part)
    if count > MOST:
        return [Form((node,))]
    return [_merged(tuple(piece for form in one for piece in form)) for one in product(*parts)]


def _merged(pieces: tuple[str | ast.expr, ...]) -> Form:
    """Literal pieces that touch, as one."""
    merged: list[str | ast.expr] = []
    for piece in pieces:
        if isinstance(piece, str) and merged and isinstance(merged[-1], str):
            merged[-1] += piece
        else:
            merged.append(piece)
    return Form(merged)


def _free_name(node: ast.expr, named: dict[str, str]) -> str:
    source = ast.unparse(node)
    if source in named:
        return named[source]
    name = wanted = _name(node)
    number = 1
    while name in named.values():
        number += 1
        name = f"{wanted}_{number}"
    named[source] = name
    return name


def _name(node: ast.expr) -> str:
    """A word for the value: its variable, its attribute, what is counted, or 'value'."""
    if isinstance(node, ast.FormattedValue | ast.Starred | ast.Await):
        return _name(node.value)
    if isinstance(node, ast.Name):
        return node.id.strip("_").lower() or "value"
    if isinstance(node, ast.Attribute):
        return node.attr.strip("_")
    if isinstance(node, ast.Subscript):
        return _name(node.value)
    if isinstance(node, ast.BoolOp):
        return _name(node.values[0])
    if isinstance(node, ast.BinOp):
        left = _name(node.left)
        return left if left != "value" else _name(node.right)
    if isinstance(node, ast.Call):
        inner = [_name(one) for one in node.args if not isinstance(one, ast.Constant)]
        if isinstance(node.func, ast.Attribute) and not inner:
            return _name(node.func.value)
        return next((one for one in inner if one != "value"), "value")
    if isinstance(node, ast.GeneratorExp | ast.ListComp | ast.SetComp):
        return _name(node.generators[0].iter)
    return "value"
