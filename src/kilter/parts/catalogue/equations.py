"""
Equations of the catalogue: what each output and inner node of a chip is.

    Y = EXPRESSION                          always driven
    Y = EXPRESSION when EXPRESSION          three-state: let go otherwise
    Y = open EXPRESSION                     open collector: pulls low, never high
    Q := EXPRESSION at EXPRESSION           taken when the second one rises
    Q := EXPRESSION while EXPRESSION        followed while the second one is true, else held
Both kinds of storage may end in 'clear EXPRESSION' and 'preset EXPRESSION', which force Q while they are true.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from kilter.parts.catalogue.expression import Expression, expression
from kilter.parts.catalogue.ranges import expand

WORDS = ("when", "at", "while", "clear", "preset")


@dataclass(frozen=True, slots=True)
class Equation:
    """
    One line.

    Args:
        target: Pin or inner node.
        value: What it is, or takes.
        enable: Three-state: driven while this is true.
        open_collector: It only pulls low.
        clock: Storage: taken when this rises (edge) or while it is true (not edge).
        edge: The storage is clocked by an edge.
        clear: Storage: 0 while this is true.
        preset: Storage: 1 while this is true.
    """

    target: str
    value: Expression
    enable: Expression | None = None
    open_collector: bool = False
    clock: Expression | None = None
    edge: bool = False
    clear: Expression | None = None
    preset: Expression | None = None

    @property
    def stores(self) -> bool:
        """Whether it is a flip-flop or latch."""
        return self.clock is not None

    @property
    def lets_go(self) -> bool:
        """Whether there are times when it does not drive."""
        return self.enable is not None or self.open_collector

    def reads(self) -> Iterator[str]:
        """Every name that it reads."""
        for part in (self.value, self.enable, self.clock, self.clear, self.preset):
            if part is not None:
                yield from part.names()


def equations(text: str) -> tuple[Equation, ...]:
    """
    The equations of a block of lines, ranges expanded.

    Raises:
        ValueError: A line cannot be read.

    >>> [(line.target, line.stores, line.lets_go) for line in equations("q{1..2} := D{1..2} at CLK clear ~/R")]
    [('q1', True, False), ('q2', True, False)]
    >>> [line.target for line in equations("Y = ~A when ~/G")]
    ['Y']
    """
    return tuple(_equation(line) for written in text.splitlines() if written.strip() for line in expand(written))


def _equation(line: str) -> Equation:
    target, sign, rest = re.split(r"\s*(:?=)\s*", line.strip(), maxsplit=1)
    pieces = re.split(rf"\s+({'|'.join(WORDS)})\s+", rest)
    value = pieces[0].removeprefix("open ")
    said = {word: expression(text) for word, text in zip(pieces[1::2], pieces[2::2], strict=True)}
    if ("at" in said) + ("while" in said) != (sign == ":="):
        raise ValueError(f"'{line.strip()}' needs ':=' with 'at' or 'while', or '=' without")
    return Equation(
        target=target,
        value=expression(value),
        enable=said.get("when"),
        open_collector=value != pieces[0],
        clock=said.get("at", said.get("while")),
        edge="at" in said,
        clear=said.get("clear"),
        preset=said.get("preset"),
    )
