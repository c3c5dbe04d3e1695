"""Findings from the circuit's graph: nets without a direct-current path to ground, loops of voltage sources."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.circuit.board import GROUND, Board, Element
from kilter.circuit.finding import DOUBT, WRONG, Finding

STIFF = ("V", "E", "H", "L")
"""Kinds whose voltage at DC does not depend on their current."""


class Islands:
    """
    Nets grouped by what joins them.

    >>> islands = Islands()
    >>> islands.join("a", "b"), islands.join("b", "a"), islands.same("a", "c")
    (True, False, False)
    """

    def __init__(self) -> None:
        self.above: dict[str, str] = {}

    def root(self, net: str) -> str:
        """The net that stands for the group."""
        while (above := self.above.setdefault(net, net)) != net:
            self.above[net] = self.above[above]
            net = above
        return net

    def join(self, one: str, other: str) -> bool:
        """Put two groups together; False where they were one already."""
        first, second = self.root(one), self.root(other)
        self.above[first] = second
        return first != second

    def same(self, one: str, other: str) -> bool:
        """Whether two nets are in one group."""
        return self.root(one) == self.root(other)


def circuit_findings(board: Board) -> Iterator[Finding]:
    """What the graph of the elements tells; nothing for a board without a circuit."""
    if not board.elements:
        return
    if not any(GROUND in element.nodes for element in board.elements.values()):
        yield Finding(WRONG, GROUND, "No element touches the ground net '0', so no voltage can be predicted.")
    if not any(element.kind in "VI" for element in board.elements.values()):
        yield Finding(DOUBT, board.name, "The circuit has no source, so every powered voltage is predicted as zero.")
    yield from _floating(board)
    yield from _loops(board)


def _floating(board: Board) -> Iterator[Finding]:
    """Nets that only capacitors, current sources and inputs of controlled sources join to ground."""
    islands = Islands()
    for element in board.elements.values():
        ends = _conducting(element)
        for end in ends[1:]:
            islands.join(ends[0], end)
    nets = dict.fromkeys(node for element in board.elements.values() for node in element.nodes)
    for net in nets:
        if not islands.same(net, GROUND):
            yield Finding(DOUBT, net, f"The net {net} has no direct-current path to ground; its voltage is unknown.")


def _conducting(element: Element) -> tuple[str, ...]:
    """The nodes among which an element carries direct current."""
    if element.kind in "CIGF":
        return ()
    return element.nodes[:2] if element.kind in "EH" else element.nodes


def _loops(board: Board) -> Iterator[Finding]:
    """Voltage sources, and inductors at DC, that close a loop on themselves: their current is not determined."""
    islands = Islands()
    for kind in STIFF:
        for element in (one for one in board.elements.values() if one.kind == kind):
            if not islands.join(element.nodes[0], element.nodes[1]):
                level = DOUBT if kind == "L" else WRONG
                what = "an inductor" if kind == "L" else "a voltage source"
                yield Finding(
                    level, element.part or element.name,
                    f"{element.name}, {what}, closes a loop of voltage sources and inductors "
                    f"between {element.nodes[0]} and {element.nodes[1]}.",
                )  # fmt: skip
