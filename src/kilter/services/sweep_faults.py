"""Sweep faults: what every point reads under every fault, or every pair of faults; the board's fault dictionary."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Any

import numpy as np

from kilter.circuit.board import Board
from kilter.measure.scales import from_scale
from kilter.parts.kinds import modes_of
from kilter.services.open_tests import open_tests
from kilter.services.visit_states import follow
from kilter.simulate.chain import Chain
from kilter.simulate.prediction import Fault, Hypothesis

BAND = 2.0
"""Standard deviations to either side that the band of a reading holds."""


def fault_sets(board: Board, most: int) -> list[list[Fault]]:
    """The healthy board, every fault, and for `most` = 2 every pair of faults of two parts; in a fixed order."""
    faults = [(ref, mode.key) for ref, part in sorted(board.parts.items()) for mode in modes_of(part)]
    found: list[list[Fault]] = [[], *([one] for one in faults)]
    if most > 1:
        found += [[one, other] for one, other in combinations(faults, 2) if one[0] != other[0]]
    return found


def swept(board: Board, chain: Chain, sets: Sequence[Hypothesis]) -> list[dict[str, Any]]:
    """
    Readings under each fault set.

    Returns:
        For each set its `faults` and `readings`: `state`, `point`, `quantity`, `unknown` (chance that it could be
        anything) and either `middle`, `low`, `high` [unit of the quantity] or `words` with their chances. Plain data
        without numbers that JSON lacks: an infinite one is the text 'over'.
    """
    found: list[dict[str, Any]] = [{"faults": [list(one) for one in sorted(faults)], "readings": []} for faults in sets]
    tests = open_tests(follow(board, ()), chain)
    for name in board.states:
        here = [test for test in tests if test.state == name]
        if not here:
            continue
        told = chain.predict(board, board.states[name], list(sets), here)
        for column, test in enumerate(told.tests):
            head = {"state": name, "point": test.point, "quantity": test.quantity}
            for row, one in enumerate(found):
                unknown = float(np.nan_to_num(told.unknown[row, column], nan=1.0))
                reading: dict[str, Any] = {**head, "unknown": unknown}
                if column in told.words:
                    words, chances = told.words[column]
                    reading["words"] = {word: float(c) for word, c in zip(words, chances[row], strict=True)}
                else:
                    mean, spread = told.mean[row, column], BAND * told.spread[row, column]
                    scaled = from_scale(test.quantity, [mean, mean - spread, mean + spread])
                    reading |= {key: _plain(v) for key, v in zip(("middle", "low", "high"), scaled, strict=True)}
                one["readings"].append(reading)
    return found


def _plain(value: float) -> float | str | None:
    if np.isnan(value):
        return None
    return float(value) if np.isfinite(value) else ("over" if value > 0 else "under")
