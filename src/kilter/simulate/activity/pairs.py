"""Pairs of nets: the voltages by which blocks hang on the circuit."""

from __future__ import annotations

from kilter.circuit.board import GROUND, Block, Board

NetPair = tuple[str, str]
"""(net of the red probe, net of the black one)."""


def pair_of(board: Board, point: str) -> NetPair:
    """The nets of a point, or of a net by its own name against ground."""
    return (board.points[point].net, board.points[point].against) if point in board.points else (point, GROUND)


def pairs_of(board: Board, block: Block) -> tuple[NetPair, ...]:
    """The voltages that one block wants to know: rails and needs whose nets are part of the circuit."""
    rails = [(board.rails[name].net, GROUND) for name in block.rails if name in board.rails]
    needs = [pair_of(board, need.point) for need in block.needs]
    nets = {GROUND, *(node for element in board.elements.values() for node in element.nodes)}
    return tuple(pair for pair in rails + needs if board.elements and nets.issuperset(pair))


def wanted_pairs(board: Board) -> tuple[NetPair, ...]:
    """The voltages that all blocks want to know, each once."""
    return tuple(dict.fromkeys(pair for block in board.blocks.values() for pair in pairs_of(board, block)))
