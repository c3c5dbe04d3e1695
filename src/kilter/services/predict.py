"""Predict: what every point would read with given faults, beside what a healthy board reads."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from kilter.circuit.board import Board
from kilter.diagnose.outlook import BAND, band_words, likely_words
from kilter.diagnose.settings import setting
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale
from kilter.parts.kinds import modes_of
from kilter.records.test import Test
from kilter.services.evidence_of import width_of
from kilter.services.open_tests import open_tests
from kilter.services.visit_states import follow
from kilter.simulate.chain import Chain
from kilter.simulate.prediction import Fault, Hypothesis, Prediction

MOSTLY = 0.5
"""From this chance of 'could be anything' on, nothing is predicted."""
APART = 3.0
"""A reading whose middle moves by more than so many standard deviations of a healthy board is said to differ."""
WORDS_APART = 0.5
"""Words that share less than this differ."""


@dataclass(frozen=True)
class Expectation:
    """
    What one test is expected to read under one hypothesis.

    Args:
        text: In words for the bench.
        mean: Middle of the band, NaN for words and where nothing is predicted. [unit of the quantity]
        low: Lower end of the band of two standard deviations over healthy tolerances. [unit]
        high: Its upper end. [unit]
        unknown: Chance that the reading could be anything.
        words: Chance of each word, for a quantity read as a word.
    """

    text: str
    mean: float
    low: float
    high: float
    unknown: float
    words: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Predicted:
    """One test with what it reads on a healthy board and with the faults; `differs` where the two are well apart."""

    test: Test
    healthy: Expectation
    faulty: Expectation
    differs: bool


def hypothesis_of(board: Board, faults: Iterable[str]) -> Hypothesis:
    """
    The fault set that texts such as 'C12:leak' name.

    Raises:
        BadInput: A text is no such pair, or the board lacks that part or mode; the message lists what there is.
    """
    found = frozenset(_fault(board, text) for text in faults)
    parts = [part for part, _ in found]
    twice = next((part for part in parts if parts.count(part) > 1), "")
    if twice:
        raise BadInput("Cannot predict with these faults", f"two modes of the part '{twice}'",
                       "one mode for each part", "Name one of them.")  # fmt: skip
    return found


def predict(
    board: Board, chain: Chain, faults: Hypothesis, states: Sequence[str] = (), places: Sequence[str] = ()
) -> tuple[Predicted, ...]:
    """
    Every reading that the predictors can tell.

    Args:
        board: As read.
        chain: Its predictors.
        faults: What is wrong; the empty set compares healthy with healthy.
        states: Names of the states wanted; all where none is named.
        places: Names of the points wanted; all where none is named.
    """
    wanted = [board.state(name).name for name in states] or list(board.states)
    tests = [
        test
        for test in open_tests(follow(board, ()), chain)
        if test.state in wanted and (not places or test.point in places)
    ]
    found = []
    for name in wanted:
        here = [test for test in tests if test.state == name]
        if here:
            prediction = chain.predict(board, board.states[name], [frozenset(), faults], here)
            found += [_predicted(board, prediction, column) for column in range(len(here))]
    return tuple(found)


def expected(board: Board, chain: Chain, state: str, tests: Sequence[Test]) -> tuple[Expectation, ...]:
    """
    What a healthy board reads in some tests of one state, also such as are never proposed.

    Args:
        board: As read.
        chain: Its predictors, which have to answer every test.
        state: Of all the tests.
        tests: One or more.
    """
    prediction = chain.predict(board, board.state(state), [frozenset()], tests)
    return tuple(_expectation(prediction, 0, column) for column in range(len(tests)))


def _fault(board: Board, text: str) -> Fault:
    doing = "Cannot predict with a fault"
    ref, colon, mode = (word.strip() for word in text.partition(":"))
    refs = {name.lower(): name for name in board.parts}
    if not colon or not mode:
        raise BadInput(doing, f"'{text}'", "PART:MODE, such as C12:leak", "Write the part, a colon and the mode.")
    if ref.lower() not in refs:
        raise BadInput(doing, f"the part '{ref}' in '{text}'", ", ".join(board.parts), "Use a part of this board.")
    part = board.parts[refs[ref.lower()]]
    modes = [one.key for one in modes_of(part)]
    if mode not in modes:
        raise BadInput(doing, f"the mode '{mode}' of {part.ref} in '{text}'", ", ".join(modes), "Use one of its modes.")
    return part.ref, mode


def _predicted(board: Board, prediction: Prediction, column: int) -> Predicted:
    healthy, faulty = (_expectation(prediction, row, column) for row in (0, 1))
    return Predicted(prediction.tests[column], healthy, faulty, _differs(board, prediction, column))


def _expectation(prediction: Prediction, row: int, column: int) -> Expectation:
    unknown = float(np.nan_to_num(prediction.unknown[row, column], nan=1.0))
    if column in prediction.words:
        names, table = prediction.words[column]
        chances = {name: float(chance) for name, chance in zip(names, table[row], strict=True)}
        text = "anything" if unknown > MOSTLY else likely_words(names, table[row])
        return Expectation(text, float("nan"), float("nan"), float("nan"), unknown, chances)
    mean, spread = float(prediction.mean[row, column]), float(prediction.spread[row, column])
    if unknown > MOSTLY or not np.isfinite(mean):
        what = quantity(prediction.tests[column].quantity)
        return Expectation("anything", float("nan"), what.low, what.high, unknown)
    key = prediction.tests[column].quantity
    low, middle, high = from_scale(key, [mean - BAND * spread, mean, mean + BAND * spread])
    return Expectation(band_words(key, mean, spread), float(middle), float(low), float(high), unknown)


def _differs(board: Board, prediction: Prediction, column: int) -> bool:
    """Whether the two rows are well apart; where one of them could be anything they are."""
    unknown = np.nan_to_num(prediction.unknown[:, column], nan=1.0) > MOSTLY
    if unknown[0] != unknown[1]:
        return True
    if unknown.all():
        return False
    if column in prediction.words:
        table = prediction.words[column][1]
        return float(np.minimum(table[0], table[1]).sum()) < WORDS_APART
    apart = abs(float(prediction.mean[1, column] - prediction.mean[0, column]))
    left_out = setting("model_error") * width_of(board, prediction.tests[column].quantity)
    return apart > APART * float(np.hypot(prediction.spread[0, column], left_out))
