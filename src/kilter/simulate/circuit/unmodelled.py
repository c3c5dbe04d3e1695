"""
Faults that work in the circuit but that no change of the circuit expresses: 'gain or offset wrong', 'intermittent'.

The equations would answer for them as for a healthy part. What such a part may move is doubtful instead, by the share
that data/block_kinds.toml gives to the effect.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kilter.circuit.board import GROUND, Board, Element, State
from kilter.measure.tables import table
from kilter.simulate.circuit.faults import mode_of, present_faults
from kilter.simulate.prediction import Fault, Floats, Hypothesis

SUPPLY_PINS = frozenset({"v+", "v-", "vcc", "vdd", "vss", "vee", "gnd"})


def unmodelled_doubt(
    board: Board, state: State, hypotheses: Sequence[Hypothesis], pairs: Sequence[tuple[str, str]]
) -> Floats:
    """
    Chance that a powered reading between two nets could be anything, shape (H, pairs).

    Args:
        board: With elements.
        state: Faults of parts renewed or unplugged in it do not count.
        hypotheses: Sets of faults.
        pairs: Red and black net of each reading.
    """
    found = np.zeros((len(hypotheses), len(pairs)))
    known: dict[Fault, Floats | None] = {}
    for row, hypothesis in enumerate(hypotheses):
        for fault in present_faults(state, hypothesis):
            if fault not in known:
                doubt = _doubt_of(board, fault, pairs)
                known[fault] = doubt if doubt.any() else None
            moved = known[fault]
            if moved is not None:
                found[row] = np.maximum(found[row], moved)
    return found


def _doubt_of(board: Board, fault: Fault, pairs: Sequence[tuple[str, str]]) -> Floats:
    mode = mode_of(board, *fault)
    share = float(table("block_kinds")["effects"].get(mode.block, {}).get("doubt", 0.0)) if mode.block else 0.0
    if mode.circuit or share == 0.0:
        return np.zeros(len(pairs))
    nets = moved_by(board, fault[0])
    return np.array([share if nets & set(pair) else 0.0 for pair in pairs])


def moved_by(board: Board, ref: str) -> frozenset[str]:
    """
    Nets that a part may move: those of its elements, and on through other elements up to ground and held rails.

    A part moves no net at its supply pins; what it holds itself, as a regulator does its output, holds it no longer.
    A chip whose only element is the resistance of its supply current moves none.
    """
    inside = [one for one in board.elements.values() if one.part == ref and not one.stands_for_chip]
    if not inside:
        return frozenset()
    pins = board.parts[ref].pins
    supplied = {net for pin, net in pins.items() if pin in SUPPLY_PINS} | {GROUND}
    own = {net for one in inside for net in one.nodes} - supplied
    held = supplied | {rail.net for rail in board.rails.values()} - own
    held |= {net for one in board.elements.values() if _is_outside_supply(one) for net in one.nodes}
    return _flood(board, own - held, held)


def _is_outside_supply(one: Element) -> bool:
    return one.kind == "V" and not one.part and GROUND in one.nodes


def _flood(board: Board, seeds: set[str], held: set[str]) -> frozenset[str]:
    touching: dict[str, list[tuple[str, ...]]] = {}
    for one in board.elements.values():
        for net in one.nodes:
            touching.setdefault(net, []).append(one.nodes)
    reached, waiting = set(seeds), list(seeds)
    while waiting:
        for nodes in touching.get(waiting.pop(), ()):
            new = set(nodes) - held - reached
            reached |= new
            waiting += new
    return frozenset(reached)
