"""Which channel of an instrument hung on which place of a board."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from kilter.circuit.board import GROUND, Board
from kilter.measure.errors import BadInput


def channel_places(channels: Iterable[str], board: Board, said: Mapping[str, str] | None = None) -> dict[str, str]:
    """
    Channel to point, for the channels that a person placed or whose name is that of a place.

    A name counts with its scopes and without ('top.cpu.clk' is 'clk'), in any case. Places are points, nets and pins.

    Args:
        channels: Names as the capture has them.
        board: With its points.
        said: Channel to place, from a person; an empty place leaves a channel out.

    Raises:
        BadInput: A channel or a place that does not exist.

    >>> from kilter.circuit.board import Point
    >>> board = Board("b", points={"CLK": Point("CLK", "clk")})
    >>> channel_places(["top.clk", "D5"], board)
    {'top.clk': 'CLK'}
    """
    names = list(channels)
    found = {}
    wanted = {_channel(name, names): place for name, place in (said or {}).items()}
    for name in names:
        if name in wanted:
            if wanted[name]:
                found[name] = place_named(wanted[name], board)
            continue
        place = _place(name, board) or _place(name.rpartition(".")[2], board)
        if place:
            found[name] = place
    return found


def place_named(word: str, board: Board) -> str:
    """
    The point that a word means.

    Raises:
        BadInput: There is no such place; the message lists some.
    """
    found = _place(word, board)
    if found:
        return found
    listed = ", ".join([*board.points][:12]) or "none: the board has no points"
    raise BadInput("Cannot place a channel on the board", f"the place '{word[:60]}', which the board does not have",
                   listed, "Use a point, a net or a pin of the board.")  # fmt: skip


def _channel(name: str, names: list[str]) -> str:
    """The channel as the capture spells it."""
    same = [one for one in names if one.lower() == name.lower()]
    same = same or [one for one in names if one.rpartition(".")[2].lower() == name.lower()]
    if len(same) == 1:
        return same[0]
    found = f"the channel '{name[:60]}', which {'is there more than once' if same else 'the capture does not have'}"
    raise BadInput("Cannot place a channel on the board", found, ", ".join(names[:12]) or "none",
                   "Use a name of the capture, with its scopes.")  # fmt: skip


def _place(word: str, board: Board) -> str | None:
    low = re.sub(r"\s+", "", word).lower()
    for name in board.points:
        if name.lower() == low:
            return name
    ref, _, pin = low.rpartition(".")
    part = next((part for part in board.parts.values() if part.ref.lower() == ref), None)
    net = next((net for key, net in part.pins.items() if key.lower() == pin), low) if part else low
    for point in board.points.values():
        if point.net.lower() == net.lower() and point.against == GROUND:
            return point.name
    return None
