"""Words of one state that move together: how well each scene of a hypothesis gives all of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kilter.diagnose.evidence import Evidence
from kilter.simulate.prediction import Floats, Prediction, Scenes


def scene_chances(scenes: Scenes, prediction: Prediction, read: Sequence[tuple[Evidence, int]]) -> Floats:
    """
    Share of each scene times the chance of all these readings in it, shape (H, S).

    Args:
        read: Readings with their columns.
    """
    found = np.array(scenes.shares, dtype=float)
    for one, t in read:
        names = prediction.words[t][0]
        found *= (1.0 - one.gross) * scenes.chances[t][:, :, names.index(one.word)] + one.gross / len(names)
    return found
