"""Points and states that a board has where nobody wrote any."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from kilter.circuit.board import GROUND, Board, Point, State

OFF = State("off", powered=False, label="no supply connected")
ON = State("on", powered=True, label="supplied as in the netlist")


def with_defaults(board: Board) -> Board:
    """
    The board with the points and states it cannot do without.

    Where points are declared, every other net is a point too, but none that is asked for: it may be read all the same.
    """
    return replace(board, points=all_points(board), states=default_states(board))


def all_points(board: Board) -> dict[str, Point]:
    """The declared points, then the nets and the signals of blocks that none of them covers."""
    covered = {point.net for point in board.points.values() if point.against == GROUND} | set(board.points)
    nets = [net for net in _shared_nets(board) if net not in covered]
    ports = (port for block in board.blocks.values() for port in (block.outputs, block.inputs))
    signals = [signal for port in ports for signal in port.values() if signal not in covered]
    points = dict(board.points) | {net: Point(net, net, reachable=not board.points) for net in nets}
    return points | {signal: Point(signal, signal) for signal in signals if signal != GROUND}


def _shared_nets(board: Board) -> list[str]:
    """Nets but ground that join two or more pins; a source's terminal counts, the inside of subcircuits does not."""
    places = Counter(net for part in board.parts.values() for net in part.pins.values())
    outer = set(places)
    for element in board.elements.values():
        if element.kind in "VI" and not element.part:
            places.update(set(element.nodes))
    return [net for net, count in places.items() if count >= 2 and net != GROUND and net in outer]


def default_states(board: Board) -> dict[str, State]:
    """The board's states, with 'off' and 'on' where none is unpowered or none powered."""
    states = dict(board.states)
    if not any(not state.powered for state in states.values()):
        states = {OFF.name: OFF, **states}
    if not any(state.powered for state in states.values()):
        states[ON.name] = ON
    return states
