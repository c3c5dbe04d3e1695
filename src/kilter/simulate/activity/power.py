"""Power: where the rails of a block are good, and where its needs are met."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.circuit.board import GROUND, Block, Board, Rail, State
from kilter.simulate.activity.block_kinds import judgement
from kilter.simulate.activity.pairs import NetPair, pair_of
from kilter.simulate.activity.signal import HIGH, LOW, UNPOWERED, Floats, Mask, Signal, any_doubt
from kilter.simulate.activity.suffering import Suffering
from kilter.simulate.activity.work import CERTAIN, NEVER
from kilter.simulate.prediction import Hypothesis

Circuit = Callable[[Board, State, Sequence[Hypothesis], Sequence[NetPair]], Floats]
"""Voltages between pairs of nets, tolerance sample by sample; NaN where not settled. [V], shape (H, S, pairs)"""


@dataclass(frozen=True, slots=True)
class Standing:
    """
    How a block stands, each of shape (H, S) or smaller.

    Args:
        powered: Its rails are good.
        met: Its needs are met.
        doubt: Chance that either is otherwise.
    """

    powered: Mask
    met: Mask
    doubt: Floats


def standing(
    board: Board,
    block: Block,
    suffers: Suffering,
    volts: Mapping[NetPair, Floats],
    feed: Callable[[str], Signal | None],
) -> Standing:
    """
    How a block stands, in a powered state.

    Args:
        board: With rails and points.
        block: The block.
        suffers: Where a rail is shorted.
        volts: What the circuit says; a rail or need of which it says nothing is good unless a fault says otherwise.
        feed: The signal that drives a rail, by the rail's name, or None.
    """
    powered, doubt = ~NEVER, CERTAIN
    for name in block.rails:
        good, unsure = _rail(board.rails.get(name), name, suffers, volts, feed(name))
        powered, doubt = powered & good, any_doubt(doubt, unsure)
    met = ~NEVER
    for need in block.needs:
        here = volts.get(pair_of(board, need.point))
        if here is not None:
            met = met & ((here >= need.low) & (here <= need.high) | np.isnan(here))
            doubt = any_doubt(doubt, np.isnan(here))
    return Standing(powered, met, doubt)


def _rail(
    rail: Rail | None, name: str, suffers: Suffering, volts: Mapping[NetPair, Floats], feed: Signal | None
) -> tuple[Mask, Floats]:
    """Where a rail is on, and the doubt whether what hangs on it works."""
    shorted = suffers.where(("rail", name, "short"))
    if rail is not None and (rail.net, GROUND) in volts:
        return _in_band(rail, volts[rail.net, GROUND])
    if feed is None:
        return ~shorted, CERTAIN
    on, off = feed.level == HIGH, np.isin(feed.level, (LOW, UNPOWERED))
    unsure, powered = any_doubt(feed.doubt, np.where(on | off, 0.0, 1.0)), ~off
    if rail is not None:
        enough, doubt = _in_band(rail, np.where(np.isnan(feed.size), rail.nominal, feed.size))
        powered, unsure = powered & (enough | ~on), np.where(on, any_doubt(unsure, doubt), unsure)
    return powered & ~shorted, np.where(shorted, 0.0, unsure)


def _in_band(rail: Rail, here: Floats) -> tuple[Mask, Floats]:
    """A rail outside its band but not off leaves in doubt whether chips work; so does one that is not known."""
    inside = (here >= min(rail.low, rail.high)) & (here <= max(rail.low, rail.high))
    off = here / rail.nominal < judgement("rail", "brown")
    return ~off, np.where(inside | off, 0.0, 1.0)
