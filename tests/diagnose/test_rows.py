"""Picking, joining and remembering predictions."""

import numpy as np
from test_weigh import C1, MEANS, NONE, POINTS, Q1, R1

from boards import number_predict
from kilter.diagnose.rows import Remembered


def test_remembered_predictions_equal_fresh_ones_and_are_asked_for_once():
    asked = []
    fresh = number_predict(POINTS, MEANS, draws=np.random.default_rng(0).normal(0, 0.1, (8, 3)))

    def predict_state(key, hypotheses):
        asked.extend((key, one) for one in hypotheses)
        return fresh(hypotheses)[0]

    remembered = Remembered(predict_state, ["on"])
    orders = [[NONE], [frozenset({R1}), NONE, frozenset({C1})], [frozenset({Q1}), frozenset({C1}), NONE, NONE]]
    for order in orders:
        ours, theirs = remembered(order)[0], fresh(order)[0]
        for name in ("mean", "spread", "unknown", "draws"):
            assert np.array_equal(getattr(ours, name), getattr(theirs, name))
    assert len(asked) == len(set(asked)) == 4
    remembered.states.append("after")
    assert len(remembered([NONE])) == 2
    assert asked[-1] == ("after", NONE)
