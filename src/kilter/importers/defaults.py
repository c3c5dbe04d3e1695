"""Points and states that a board has where nobody wrote any."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from kilter.circuit.board import GROUND, Board, Point, State

OFF = State("off", powered=False, label="no supply connected")
ON = State("on", powered=True, label="supplied as in the netlist")


def with_defaults(board: Board) -> Board:
    """The board with a point on each net where it has no points, and with the states it cannot do without."""
    return replace(board, points=dict(board.points) or default_points(board), states=default_states(board))


def default_points(board: Board) -> dict[str, Point]:
    """A point on every net but ground that joins two or more pins; a source's terminal counts as one."""
    places = Counter(net for part in board.parts.values() for net in part.pins.values())
    places.update(
        node for element in board.elements.values() if element.kind in "VI" and not element.part
        for node in set(element.nodes)
    )  # fmt: skip
    outer = {net for part in board.parts.values() for net in part.pins.values()}
    return {net: Point(net, net) for net, count in places.items() if count >= 2 and net != GROUND and net in outer}


def default_states(board: Board) -> dict[str, State]:
    """The board's states, with 'off' and 'on' where none is unpowered or none powered."""
    states = dict(board.states)
    if not any(not state.powered for state in states.values()):
        states = {OFF.name: OFF, **states}
    if not any(state.powered for state in states.values()):
        states[ON.name] = ON
    return states
