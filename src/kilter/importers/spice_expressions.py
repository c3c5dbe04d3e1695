"""
Arithmetic of SPICE parameters: a small reader that computes and does nothing else.

Operators, from loose to tight: `?:`, `||`, `&&`, comparisons, `+ -`, `* / % \\`, sign and `!`, `^ **`. As in ngspice a
power binds from the left (2^3^2 is 64) and tighter than a sign (-2^2 is -4), and `nint` rounds halves to even.

Source: ngspice manual, section on parameters and expressions; compared with ngspice 39 in
tests/importers/test_spice_expressions.py.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping

from kilter.importers.spice_numbers import spice_number

DEEPEST = 60
"""Nesting at which an expression is refused rather than followed further."""

TOKEN = re.compile(
    r"\s*(?P<token>(?:\d+\.?\d*|\.\d+)(?:[eEdD][+-]?\d+)?\w*|[^\W\d][\w.]*|\*\*|\|\||&&|[<>=!]=|<>|[-+*/%\\^()?:,<>=!])\s*"
)

BINDING = {
    "||": 2, "&&": 3,
    "==": 4, "=": 4, "!=": 4, "<>": 4, "<": 4, ">": 4, "<=": 4, ">=": 4,
    "+": 5, "-": 5, "*": 6, "/": 6, "%": 6, "\\": 6, "^": 8, "**": 8,
}  # fmt: skip
SIGN = 7

OPERATORS: Mapping[str, Callable[[float, float], float]] = {
    "||": lambda a, b: float(bool(a) or bool(b)),
    "&&": lambda a, b: float(bool(a) and bool(b)),
    "==": lambda a, b: float(a == b),
    "=": lambda a, b: float(a == b),
    "!=": lambda a, b: float(a != b),
    "<>": lambda a, b: float(a != b),
    "<": lambda a, b: float(a < b),
    ">": lambda a, b: float(a > b),
    "<=": lambda a, b: float(a <= b),
    ">=": lambda a, b: float(a >= b),
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "%": math.fmod,
    "\\": lambda a, b: float(math.trunc(a / b)),
    "^": math.pow,
    "**": math.pow,
}

FUNCTIONS: Mapping[str, tuple[int, Callable[..., float]]] = {
    "sqrt": (1, math.sqrt), "exp": (1, math.exp), "ln": (1, math.log), "log": (1, math.log), "log10": (1, math.log10),
    "sin": (1, math.sin), "cos": (1, math.cos), "tan": (1, math.tan),
    "asin": (1, math.asin), "acos": (1, math.acos), "atan": (1, math.atan), "arctan": (1, math.atan),
    "sinh": (1, math.sinh), "cosh": (1, math.cosh), "tanh": (1, math.tanh),
    "asinh": (1, math.asinh), "acosh": (1, math.acosh), "atanh": (1, math.atanh),
    "abs": (1, abs), "sqr": (1, lambda x: x * x), "int": (1, math.trunc), "nint": (1, round),
    "floor": (1, math.floor), "ceil": (1, math.ceil), "sgn": (1, lambda x: float((x > 0) - (x < 0))),
    "pow": (2, math.pow), "pwr": (2, lambda x, y: math.copysign(abs(x) ** y, x)), "min": (2, min), "max": (2, max),
    "ternary_fcn": (3, lambda test, yes, no: yes if test else no),
}  # fmt: skip


class ExpressionError(Exception):
    """The text cannot be computed; the message says why in a few words."""


Lookup = Callable[[str], float]
Call = Callable[[str, list[float]], float]


def compute(text: str, lookup: Lookup, call: Call | None = None) -> float:
    """
    The value of an expression.

    Args:
        text: Without its braces or quotes.
        lookup: Value of a parameter by its lower-case name; raises ExpressionError where there is none.
        call: Value of a function that is not built in; raises ExpressionError where there is none.

    Raises:
        ExpressionError: Not an expression, or a division by zero, or a result that is no finite real number.

    >>> compute("2*(k+1)^2 > 10 ? 4.7k : 1Meg", {"k": 1.5}.__getitem__)
    4700.0
    """
    reader = _Reader(_tokens(text), lookup, call or _no_function)
    try:
        value = float(reader.ternary(0))
    except (ArithmeticError, ValueError, RecursionError) as error:
        raise ExpressionError(str(error) or "arithmetic that has no result") from None
    if reader.at < len(reader.tokens):
        raise ExpressionError(f"'{reader.tokens[reader.at]}' where nothing more was expected")
    if not math.isfinite(value):
        raise ExpressionError("a result that is not finite")
    return value


def _tokens(text: str) -> list[str]:
    tokens, at = [], 0
    while at < len(text):
        match = TOKEN.match(text, at)
        if not match:
            raise ExpressionError(f"'{text[at : at + 10].strip()}', which is no part of an expression")
        tokens.append(match["token"])
        at = match.end()
    if not tokens:
        raise ExpressionError("nothing to compute")
    return tokens


def _no_function(name: str, _arguments: list[float]) -> float:
    raise ExpressionError(f"the function '{name}'; known are {', '.join(sorted(FUNCTIONS))}")


class _Reader:
    def __init__(self, tokens: list[str], lookup: Lookup, call: Call) -> None:
        self.tokens, self.lookup, self.call, self.at = tokens, lookup, call, 0

    def peek(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def take(self, wanted: str = "") -> str:
        token = self.peek()
        if not token or (wanted and token != wanted):
            raise ExpressionError(f"'{token or 'the end'}' where {repr(wanted) if wanted else 'a value'} was expected")
        self.at += 1
        return token

    def ternary(self, depth: int) -> float:
        if depth > DEEPEST:
            raise ExpressionError(f"nesting deeper than {DEEPEST}")
        test = self.binary(0, depth + 1)
        if self.peek() != "?":
            return test
        self.take("?")
        yes = self.ternary(depth + 1)
        self.take(":")
        no = self.ternary(depth + 1)
        return yes if test else no

    def binary(self, loosest: int, depth: int) -> float:
        left = self.signed(depth + 1)
        while (binding := BINDING.get(self.peek(), 0)) > loosest:
            operator = self.take()
            left = OPERATORS[operator](left, self.binary(binding, depth + 1))
        return left

    def signed(self, depth: int) -> float:
        if depth > 4 * DEEPEST:
            raise ExpressionError(f"nesting deeper than {DEEPEST}")
        if self.peek() not in ("-", "+", "!"):
            return self.single(depth + 1)
        sign = self.take()
        value = self.binary(SIGN, depth + 1)
        return {"-": -value, "+": value, "!": float(not value)}[sign]

    def single(self, depth: int) -> float:
        token = self.take()
        if token == "(":
            value = self.ternary(depth + 1)
            self.take(")")
            return value
        if token[0].isdigit() or token[0] == ".":
            return self.number(token)
        if not (token[0].isalpha() or token[0] == "_"):
            raise ExpressionError(f"'{token}' where a value was expected")
        name = token.lower()
        return self.function(name, depth) if self.peek() == "(" else self.lookup(name)

    def number(self, token: str) -> float:
        value = spice_number(token)
        if value is None:
            raise ExpressionError(f"'{token}', which is no number")
        if re.search(r"[a-z]\w*\d", re.sub(r"[ed][+-]?\d+", "", token.lower())):
            raise ExpressionError(f"'{token}', which SPICE refuses inside an expression; write a decimal point")
        return value

    def function(self, name: str, depth: int) -> float:
        arguments = self.arguments(depth)
        if name not in FUNCTIONS:
            return self.call(name, arguments)
        count, function = FUNCTIONS[name]
        if len(arguments) != count:
            raise ExpressionError(f"{len(arguments)} arguments for {name}, which takes {count}")
        return float(function(*arguments))

    def arguments(self, depth: int) -> list[float]:
        self.take("(")
        found = [self.ternary(depth + 1)]
        while self.peek() == ",":
            self.take(",")
            found.append(self.ternary(depth + 1))
        self.take(")")
        return found
