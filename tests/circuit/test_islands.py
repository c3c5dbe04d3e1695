"""
Islands, against groups found in another way: by merging the elements that are left after a fault was written out.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilter.circuit.board import GROUND, Board, Element, State
from kilter.parts.kinds import modes_of
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.circuit.islands import Islands, tied
from kilter.simulate.circuit.sweep import sweep
from kilter.simulate.circuit.tolerances import sample_parameters

ON = State("on", powered=True)
JOINED_BY = {
    "R": [(0, 1)],
    "L": [(0, 1)],
    "V": [(0, 1)],
    "E": [(0, 1)],
    "H": [(0, 1)],
    "D": [(0, 1)],
    "Q": [(0, 1), (1, 2)],
}
"""Terminals of each kind between which a direct current can pass."""

EDGES = st.lists(
    st.tuples(st.integers(0, 9), st.integers(0, 9), st.booleans()).filter(lambda edge: edge[0] != edge[1]), max_size=25
)


def _merged(nets: set[str], pairs: list[tuple[str, str]]) -> list[set[str]]:
    """Groups of nets by merging, pair by pair."""
    groups = [{net} for net in nets]
    for a, b in pairs:
        touched = [group for group in groups if a in group or b in group]
        groups = [group for group in groups if group not in touched] + [set().union(*touched)]
    return groups


@given(EDGES, st.sets(st.integers(0, 24)), st.sets(st.integers(0, 24)))
def test_random_graphs(edges: list[tuple[int, int, bool]], opened: set[int], joined: set[int]) -> None:
    """Edges that are there or not, some then opened, some then joined: the same islands as by merging."""
    rows = [(str(a), str(b), number) for number, (a, b, _) in enumerate(edges)]
    nominal = np.array([float(there) for _, _, there in edges])
    opened, joined = {i for i in opened if i < len(edges)}, {i for i in joined if i < len(edges)}
    found = Islands(SimpleNamespace(edges=rows, nominal=nominal)).layout(opened=opened, joined=joined)  # type: ignore[arg-type]
    live = [(a, b) for a, b, i in rows if (nominal[i] and i not in opened) or i in joined]
    groups = _merged({net for a, b, _ in rows for net in (a, b)} | {GROUND}, live)
    floating = [group for group in groups if GROUND not in group]
    assert set(found) == set().union(*floating)
    for group in floating:
        names = {found[net] for net in group}
        assert len(names) == 1
        assert names <= group


def _left_hanging(elements: list[Element]) -> set[str]:
    """Nets that no direct current can reach from ground; the resistor that holds a lifted pin does not count."""
    pairs = [
        (element.nodes[a], element.nodes[b])
        for element in elements
        if not (element.kind == "R" and element.value >= engine_number("dangling_ohm"))
        for a, b in JOINED_BY.get(element.kind, ())
    ]
    nets = {net for element in elements for net in element.nodes}
    return set().union(*(group for group in _merged(nets | {GROUND}, pairs) if GROUND not in group))


@pytest.mark.parametrize("name", ["audio", "drivers", "filter", "ifstage", "regulator", "reset", "supply"])
def test_every_single_fault(name: str, netlist: Callable[[str], Board]) -> None:
    """The nets that a sweep calls floating under each fault are those that the written-out circuit leaves hanging."""
    board = netlist(name)
    equations = write_equations(board, powered=True)
    faults = [(ref, mode.key) for ref, part in board.parts.items() for mode in modes_of(part) if mode.circuit]
    found = sweep(
        board, equations, ON, [frozenset({f}) for f in faults], sample_parameters(board, equations, 1), compiled=False
    )
    nets = {net for element in board.elements.values() for net in element.nodes} - {GROUND}
    some = 0
    for fault, floating in zip(faults, found.floating, strict=True):
        wanted = _left_hanging(apply_faults(board, ON, frozenset({fault}))) & nets
        assert floating & nets == wanted, fault
        some += bool(wanted)
    assert some or name in ("reset", "drivers", "supply", "regulator"), "no fault of this netlist leaves a net hanging"


class TestTied:
    LAYOUT = {"a": "a", "b": "a", "c": "c", "d": "c", "e": "e"}  # noqa: RUF012

    def test_one_net_for_each_island(self) -> None:
        """Three islands, three ties."""
        assert tied(self.LAYOUT) == ["a", "c", "e"]

    def test_a_meter_between_two_islands_makes_them_one(self) -> None:
        """One tie fewer, so that no current can pass from tie to tie through the meter."""
        assert len(tied(self.LAYOUT, ("b", "d"))) == 2

    def test_a_meter_to_a_held_net_holds_the_island(self) -> None:
        """From island c to ground: that island needs no tie."""
        assert tied(self.LAYOUT, ("d", GROUND)) == ["a", "e"]

    def test_a_meter_inside_one_island_changes_nothing(self) -> None:
        """Both leads on island a."""
        assert tied(self.LAYOUT, ("a", "b")) == ["a", "c", "e"]
