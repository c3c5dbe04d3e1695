"""Islands: nets that an opened pin has cut off from ground, found on the graph and never left to the numbers."""

from __future__ import annotations

from collections.abc import Iterable

from kilter.circuit.board import GROUND
from kilter.simulate.circuit.equations import Equations

Layout = dict[str, str]
"""Each net that floats to the name of its island, which is one of its nets."""


class Islands:
    """
    Finds the nets that nothing conducting joins to ground.

    Args:
        equations: Whose edges (two nets and the parameter that joins them when it is not 0) make the graph.
    """

    def __init__(self, equations: Equations) -> None:
        self._neighbours: dict[str, list[tuple[str, int]]] = {}
        for a, b, number in equations.edges:
            self._neighbours.setdefault(a, []).append((b, number))
            self._neighbours.setdefault(b, []).append((a, number))
        self._always = frozenset(int(i) for i in (equations.nominal != 0.0).nonzero()[0])

    def layout(self, *, opened: Iterable[int] = (), joined: Iterable[int] = ()) -> Layout:
        """
        The floating nets, once some parameters have become 0 and others no longer are.

        Args:
            opened: Parameters that are now 0.
            joined: Parameters that are now more than 0.
        """
        live = (self._always - set(opened)) | set(joined)
        held = self._reach(GROUND, live, {GROUND})
        found: Layout = {}
        for net in self._neighbours:
            if net not in held and net not in found:
                found |= dict.fromkeys(self._reach(net, live, {net}), net)
        return found

    def _reach(self, start: str, live: frozenset[int] | set[int], seen: set[str]) -> set[str]:
        waiting = [start]
        while waiting:
            for net, number in self._neighbours.get(waiting.pop(), ()):
                if number in live and net not in seen:
                    seen.add(net)
                    waiting.append(net)
        return seen


def tied(layout: Layout, pair: tuple[str, str] | None = None) -> list[str]:
    """
    One net of each island, by which it can be tied to ground without a current.

    Args:
        layout: The islands.
        pair: Two nets joined by a meter: their islands become one, or are held where either net is.
    """
    names = dict.fromkeys(layout.values())
    if pair is not None:
        red, black = (layout.get(net) for net in pair)
        if red != black:
            names.pop(red or black or "", None)
    return list(names)
