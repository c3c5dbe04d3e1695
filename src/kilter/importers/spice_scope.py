"""
Parameters and functions in force at one place of a SPICE netlist.

A name is looked up in the subcircuit that uses it, then in the one that called that, up to the top, as ngspice does.
Definitions may stand in any order; one that leads back to itself is refused.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from kilter.importers.spice_cards import expression_inside
from kilter.importers.spice_expressions import ExpressionError, compute

DEEPEST = 50
"""Calls of `.func` inside each other before they are refused."""


@dataclass(frozen=True, slots=True)
class Function:
    """A `.func`: names of its arguments and the expression over them."""

    arguments: tuple[str, ...]
    body: str


@dataclass
class Scope:
    """Parameters of one place, over those of the place that called it."""

    texts: dict[str, str] = field(default_factory=dict)
    values: dict[str, float] = field(default_factory=dict)
    functions: dict[str, Function] = field(default_factory=dict)
    above: Scope | None = None
    depth: int = 0
    computing: list[str] = field(default_factory=list)

    def compute(self, text: str) -> float:
        """
        The value of an expression, with or without braces.

        Raises:
            ExpressionError: It cannot be computed; the message says why.
        """
        return compute(expression_inside(text), self.parameter, self.call)

    def parameter(self, name: str) -> float:
        """The value of a parameter, by lower-case name."""
        if name in self.values:
            return self.values[name]
        if name in self.texts:
            return self._settle(name)
        if self.above is None:
            raise ExpressionError(f"the parameter '{name}', which nothing defines")
        return self.above.parameter(name)

    def call(self, name: str, arguments: list[float]) -> float:
        """The value of a `.func`, by lower-case name."""
        scope: Scope | None = self
        while scope is not None and name not in scope.functions:
            scope = scope.above
        if scope is None:
            raise ExpressionError(f"the function '{name}', which nothing defines")
        function = scope.functions[name]
        if len(arguments) != len(function.arguments):
            raise ExpressionError(f"{len(arguments)} arguments for {name}, which takes {len(function.arguments)}")
        if self.depth >= DEEPEST:
            raise ExpressionError(f"the function '{name}' called inside itself")
        values = dict(zip(function.arguments, arguments, strict=True))
        return Scope(values=values, above=self, depth=self.depth + 1).compute(function.body)

    def _settle(self, name: str) -> float:
        if name in self.computing:
            raise ExpressionError(f"the parameter '{name}', which is defined by itself")
        self.computing.append(name)
        try:
            self.values[name] = self.compute(self.texts[name])
        finally:
            self.computing.pop()
        return self.values[name]
