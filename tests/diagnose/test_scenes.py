"""
Words that move together, against Bayes' rule written out by hand.

A hypothesis with scenes is a small Bayes net with one hidden cause; the expected figures are its sums, done here with
plain fractions.
"""

from __future__ import annotations

import numpy as np
import pytest

from kilter.diagnose.evidence import Evidence
from kilter.diagnose.rows import join, take
from kilter.diagnose.scene_chances import scene_chances
from kilter.diagnose.weigh import weigh
from kilter.records.test import Test
from kilter.simulate.prediction import Prediction, Scenes

WORDS = ("low", "high")
TESTS = tuple(Test(point=net, quantity="level", state="on") for net in "AB")
SAME = np.array([[[1.0, 0.0], [0.0, 1.0]]])
"""A line and what follows it: low in one scene, high in the other."""


def prediction(shares: tuple[float, ...] = (0.5, 0.5)) -> Prediction:
    scenes = Scenes(np.array([shares]), {0: SAME, 1: SAME})
    words = {t: (WORDS, scenes.marginal(t)) for t in (0, 1)}
    blank = np.zeros((1, 2))
    return Prediction(TESTS, np.full((1, 2), np.nan), blank, blank, words=words, scenes=scenes)


def read(*words: str, gross: float = 0.1) -> list[Evidence]:
    return [Evidence(test, word=word, outlier=gross) for test, word in zip(TESTS, words, strict=False)]


def test_two_readings_of_one_cause_count_once() -> None:
    """Both low: half of 0.95 squared and of 0.05 squared, where a reading is grossly wrong, so any word, one in ten."""
    found = weigh([prediction()], read("low", "low"))
    assert found.log_likelihood[0] == pytest.approx(np.log(0.5 * 0.95**2 + 0.5 * 0.05**2))
    assert found.log_single[0] == pytest.approx(np.log([0.5, 0.5]))


def test_readings_that_no_scene_holds_are_unlikely() -> None:
    found = weigh([prediction()], read("low", "high"))
    assert found.log_likelihood[0] == pytest.approx(np.log(0.95 * 0.05))


def test_one_reading_is_as_without_scenes() -> None:
    found = weigh([prediction((0.3, 0.7))], read("high"))
    assert found.log_likelihood[0] == pytest.approx(np.log(0.7 * 0.95 + 0.3 * 0.05))


def test_what_is_expected_next_follows_what_was_read() -> None:
    """After 'low' at the first net the second is low with 0.95."""
    one = prediction()
    assert one.scenes is not None
    likely = scene_chances(one.scenes, one, [(read("low")[0], 0)])
    likely /= likely.sum(axis=1, keepdims=True)
    assert Scenes(likely, one.scenes.chances).marginal(1)[0] == pytest.approx([0.95, 0.05])


def test_batches_with_unlike_numbers_of_scenes_join() -> None:
    more = Scenes(np.array([[0.2, 0.3, 0.5]]), {t: np.full((1, 3, 2), 0.5) for t in (0, 1)})
    blank = np.zeros((1, 2))
    other = Prediction(TESTS, np.full((1, 2), np.nan), blank, blank,
                       words={t: (WORDS, more.marginal(t)) for t in (0, 1)}, scenes=more)  # fmt: skip
    both = join([prediction(), other])
    assert both.scenes is not None
    for t in (0, 1):
        assert both.scenes.marginal(t) == pytest.approx(both.words[t][1])
    alone = weigh([take(both, slice(0, 1))], read("low", "low"))
    assert alone.log_likelihood == pytest.approx(weigh([prediction()], read("low", "low")).log_likelihood)
