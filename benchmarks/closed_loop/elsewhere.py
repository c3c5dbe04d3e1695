"""
Faults that no model of the board holds: a bridge of solder between two nets, or a broken track.

Nothing of the kind is among the failure modes of parts, so whoever weighs can at best say 'not in the model'.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from kilter.circuit.board import GROUND, Board, Element

LEAST_OHM, MOST_OHM = 0.1, 10.0
"""A bridge of solder, of dirt or of a whisker; judgement, no source."""
LEAST_ENDS = 4
"""Ends of parts on a track before it can break so that two are left on either side: fewer is one part's pin open."""


def broken(board: Board, random: np.random.Generator) -> Board:
    """The board with a bridge or a broken track, each as likely where the board has a place for it."""
    tracks = [net for net in _nets(board) if len(_ends(board, net)) >= LEAST_ENDS]
    bridges = [pair for pair in _pairs(board) if not _one_part_joins(board, *pair)]
    if tracks and (not bridges or random.random() < 0.5):
        return _cut(board, str(random.choice(tracks)), random)
    a, b = bridges[int(random.integers(len(bridges)))]
    ohm = float(np.exp(random.uniform(np.log(LEAST_OHM), np.log(MOST_OHM))))
    return replace(board, elements={**board.elements, "R_bridge~": Element("R_bridge~", "R", (a, b), ohm)})


def _cut(board: Board, net: str, random: np.random.Generator) -> Board:
    """Some of the track's ends on a net of their own, at least two on either side; points stay on the first."""
    ends = _ends(board, net)
    count = int(random.integers(2, len(ends) - 1))
    away = {ends[int(place)] for place in random.choice(len(ends), count, replace=False)}
    elements = {
        name: replace(one, nodes=tuple("cut~" if (name, n) in away else node for n, node in enumerate(one.nodes)))
        for name, one in board.elements.items()
    }
    return replace(board, elements=elements)


def _nets(board: Board) -> list[str]:
    return sorted({node for one in board.elements.values() for node in one.nodes} - {GROUND})


def _ends(board: Board, net: str) -> list[tuple[str, int]]:
    return [(name, n) for name, one in board.elements.items() for n, node in enumerate(one.nodes) if node == net]


def _pairs(board: Board) -> list[tuple[str, str]]:
    nets = [GROUND, *_nets(board)]
    return [(a, b) for place, a in enumerate(nets) for b in nets[place + 1 :]]


def _one_part_joins(board: Board, a: str, b: str) -> bool:
    """Whether a short of one part would be the same bridge, or it would short an ideal source."""
    return any({a, b} <= set(one.nodes) for one in board.elements.values())
