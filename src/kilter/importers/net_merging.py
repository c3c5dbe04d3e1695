"""Nodes merged into nets: the one core that every reader of drawings and wires uses."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Generic, TypeVar

Node = TypeVar("Node", bound=Hashable)


class Merged(Generic[Node]):
    """
    Nodes in groups (a union-find forest, merged by size).

    >>> nets = Merged[str]()
    >>> for one, other in (("a", "b"), ("c", "d"), ("b", "c"), ("x", "y")):
    ...     nets.join(one, other)
    >>> nets.root("a") == nets.root("d"), nets.root("a") == nets.root("x"), len(nets.groups())
    (True, False, 2)
    """

    def __init__(self) -> None:
        self.above: dict[Node, Node] = {}
        self.size: dict[Node, int] = {}

    def root(self, node: Node) -> Node:
        """The node that stands for the group; a new node is a group of its own."""
        above = self.above
        if node not in above:
            above[node], self.size[node] = node, 1
            return node
        while above[node] != node:
            above[node] = above[above[node]]
            node = above[node]
        return node

    def join(self, one: Node, other: Node) -> None:
        """Make one group of the groups of two nodes."""
        large, small = self.root(one), self.root(other)
        if large == small:
            return
        if self.size[large] < self.size[small]:
            large, small = small, large
        self.above[small] = large
        self.size[large] += self.size[small]

    def join_all(self, nodes: Iterable[Node]) -> None:
        """Make one group of all the nodes."""
        first: Node | None = None
        for node in nodes:
            if first is None:
                first = node
            self.join(first, node)

    def groups(self) -> list[list[Node]]:
        """All groups, each in the order in which its nodes came."""
        found: dict[Node, list[Node]] = {}
        for node in self.above:
            found.setdefault(self.root(node), []).append(node)
        return list(found.values())
