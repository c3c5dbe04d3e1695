"""What reaches a board from outside while it runs: clocks, reset, and levels at its plugs."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kilter.measure.tables import table

LET_GO = 2


@dataclass(frozen=True)
class Stimulus:
    """
    Args:
        clocks: Input nets that a clock source drives; with several, the first is the fastest.
        resets: Input nets to the level they have while the board is reset; afterwards they have the other one.
        levels: Further input nets to their code: 0, 1, 2 (nothing connected) or 3 (unknown).
    """

    clocks: tuple[str, ...] = ()
    resets: Mapping[str, int] = field(default_factory=dict)
    levels: Mapping[str, int] = field(default_factory=dict)

    def codes(self, inputs: Collection[str]) -> NDArray[np.int64]:
        """Code of every input at every step, shape (steps, inputs); inputs not named have nothing connected."""
        numbers = table("logic/running")
        reset = int(numbers["reset_steps"])
        steps = np.arange(reset + int(numbers["settle_steps"]) + int(numbers["looking_steps"]))
        found = np.full((len(steps), len(inputs)), LET_GO, np.int64)
        for column, net in enumerate(inputs):
            if net in self.clocks:
                found[:, column] = (steps >> self.clocks.index(net)) & 1
            elif net in self.resets:
                found[:, column] = (steps >= reset) ^ self.resets[net]
            elif net in self.levels:
                found[:, column] = self.levels[net]
        return found
