"""Wires: which block drives which signal, which signal a point shows, and in what order blocks are worked out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kilter.circuit.board import Block, Board, Rail

Driver = tuple[str, str]
"""(block, output port)."""


@dataclass(frozen=True)
class Wires:
    """
    Args:
        drivers: Signal to the ports that drive it, in the order of the board.
        heard: Signals that some block listens to or a rail hangs on.
        order: Blocks, each after those it listens to as far as loops allow.
        rail_signals: Rail to the signal that feeds it, where a block does.
        listens: Block to the blocks that it listens to.
        loops: Whether some block stands before one that it listens to.
    """

    drivers: Mapping[str, tuple[Driver, ...]]
    heard: frozenset[str]
    order: tuple[Block, ...]
    rail_signals: Mapping[str, str]
    listens: Mapping[str, frozenset[str]]
    loops: bool


def wires_of(board: Board) -> Wires:
    """The wires between a board's blocks."""
    drivers: dict[str, list[Driver]] = {}
    for block in board.blocks.values():
        for port, signal in block.outputs.items():
            drivers.setdefault(signal, []).append((block.name, port))
    feeds = {rail.name: signal for rail in board.rails.values() if (signal := _feed(rail, drivers))}
    heard = {signal for block in board.blocks.values() for signal in block.inputs.values()}
    listens = {block.name: _listens_to(block, drivers, feeds) for block in board.blocks.values()}
    order = _in_order(listens)
    place = {name: number for number, name in enumerate(order)}
    return Wires(
        drivers={signal: tuple(ports) for signal, ports in drivers.items()},
        heard=frozenset(heard | set(feeds.values())),
        order=tuple(board.blocks[name] for name in order),
        rail_signals=feeds,
        listens={name: frozenset(others) for name, others in listens.items()},
        loops=any(place[other] >= place[name] for name, others in listens.items() for other in others),
    )


def net_of(board: Board, signal: str) -> str:
    """The net that a signal runs on: that of the point of its name, else one of its own name."""
    return board.points[signal].net if signal in board.points else signal


def signal_at(board: Board, wires: Wires, point: str) -> str | None:
    """
    The signal that a point shows: one of its name, on its net or its pin's net, or the only output of a block so named.

    >>> from kilter.circuit.board import Block, Board
    >>> board = Board("b", blocks={"clock": Block("clock", "oscillator", outputs={"out": "clk"})})
    >>> signal_at(board, wires_of(board), "clock"), signal_at(board, wires_of(board), "nowhere")
    ('clk', None)
    """
    known = {**wires.drivers, **dict.fromkeys(sorted(wires.heard))}
    if point in known:
        return point
    net = _net_at(board, point)
    found = [signal for signal in known if net and net_of(board, signal) == net]
    if found:
        return found[0]
    outputs = set(board.blocks[point].outputs.values()) if point in board.blocks else set()
    return outputs.pop() if len(outputs) == 1 else None


def _net_at(board: Board, point: str) -> str:
    if point in board.points:
        return board.points[point].net
    ref, _, pin = point.partition(".")
    return board.parts[ref].pins.get(pin, "") if ref in board.parts else ""


def _feed(rail: Rail, drivers: Mapping[str, object]) -> str:
    return next((name for name in (rail.name, rail.net) if name in drivers), "")


def _listens_to(block: Block, drivers: Mapping[str, list[Driver]], feeds: Mapping[str, str]) -> list[str]:
    signals = [*block.inputs.values(), *(feeds[rail] for rail in block.rails if rail in feeds)]
    return [name for signal in signals for name, _ in drivers.get(signal, ())]


def _in_order(listens: Mapping[str, list[str]]) -> list[str]:
    """Depth first, so that only a loop can put a block before one that it listens to."""
    ordered: list[str] = []
    entered: set[str] = set()
    for first in listens:
        path = [] if first in entered else [(first, iter(listens[first]))]
        entered.add(first)
        while path:
            name, ahead = path[-1]
            following = next((other for other in ahead if other not in entered), None)
            if following is None:
                ordered.append(name)
                path.pop()
            else:
                entered.add(following)
                path.append((following, iter(listens[following])))
    return ordered
