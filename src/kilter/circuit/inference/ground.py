"""Which net is ground, and the board with that net under ground's name."""

from __future__ import annotations

from dataclasses import replace

from kilter.circuit.board import GROUND, Board
from kilter.circuit.inference.inference import DOUBT, Inference
from kilter.circuit.inference.names import short_name
from kilter.measure.tables import table


def with_ground(board: Board) -> tuple[Board, list[Inference]]:
    """
    The board with ground named '0': the net of a name that means ground, else the one with most pins.

    A board whose file has a net '0' or GND already stays as it is.
    """
    nets = board.nets()
    if GROUND in nets or not nets:
        return board, []
    names = table("board_inference")["ground"]["names"]
    named = [net for net in nets if short_name(net) in names]
    if named:
        best = min(named, key=lambda net: (names.index(short_name(net)), -len(nets[net])))
        guess = Inference("ground", (best,), f"The net {best} is taken as ground because of its name.")
    else:
        best = max(nets, key=lambda net: len(nets[net]))
        words = (f"No net is named as ground; {best} is taken for it because it has the most pins ({len(nets[best])}). "
                 "Check it before any reading against ground.")  # fmt: skip
        guess = Inference("ground", (best,), words, DOUBT)
    return renamed(board, best, GROUND), [guess]


def renamed(board: Board, old: str, new: str) -> Board:
    """The board with one net under another name."""
    parts = {
        ref: replace(part, pins={pin: new if net == old else net for pin, net in part.pins.items()})
        for ref, part in board.parts.items()
    }
    return replace(board, parts=parts)
