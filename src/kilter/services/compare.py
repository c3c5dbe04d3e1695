"""Compare: every reading beside what a healthy board and the leading explanation predict, as numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kilter.diagnose.evidence import Evidence, columns, place_of
from kilter.records.reading import Reading
from kilter.services.diagnose import Diagnoser, Diagnosis
from kilter.services.evidence_of import evidence_of
from kilter.simulate.prediction import Hypothesis, Prediction

MOSTLY = 0.5


@dataclass(frozen=True)
class Side:
    """
    What one hypothesis predicts of one reading.

    Args:
        mean: Middle, NaN for a word or where nothing is predicted. [scaled]
        spread: Standard deviation over tolerances. [scaled]
        words: Chance of each word, for a word.
        known: Whether anything is predicted.
    """

    mean: float
    spread: float
    words: dict[str, float]
    known: bool


@dataclass(frozen=True)
class Compared:
    """
    One reading and two predictions of it.

    Args:
        reading: As taken.
        evidence: On the scale of its quantity, with the instrument's uncertainty.
        healthy: What a healthy board reads.
        leading: What the leading explanation reads.
    """

    reading: Reading
    evidence: Evidence
    healthy: Side
    leading: Side


def compare(weigher: Diagnoser, diagnosis: Diagnosis) -> tuple[Compared, ...]:
    """Every reading of the visit in its order."""
    evidence = [evidence_of(diagnosis.visit.board, one) for one in diagnosis.visit.readings]
    predictions = predicted(weigher, diagnosis, evidence, [frozenset(), leading(diagnosis)])
    where = columns(predictions)
    found = []
    for reading, one in zip(diagnosis.visit.readings, evidence, strict=True):
        group, column = place_of(one, where)
        found.append(Compared(reading, one, *(_side(predictions[group], row, column) for row in (0, 1))))
    return tuple(found)


def leading(diagnosis: Diagnosis) -> Hypothesis:
    """The likeliest fault set, faults that were repaired since among it."""
    return diagnosis.posterior.hypotheses[0]


def predicted(
    weigher: Diagnoser, diagnosis: Diagnosis, evidence: Sequence[Evidence], hypotheses: Sequence[Hypothesis]
) -> list[Prediction]:
    """The predictions of all readings under some hypotheses, one for each state of the visit."""
    assert weigher.chain is not None
    board = diagnosis.visit.board
    tests = dict.fromkeys(one.test for one in evidence)
    states = dict.fromkeys(test.state for test in tests)
    return [
        weigher.chain.predict(board, board.states[name], hypotheses, [test for test in tests if test.state == name])
        for name in states
    ]


def _side(prediction: Prediction, row: int, column: int) -> Side:
    known = bool(prediction.unknown[row, column] <= MOSTLY)
    if column in prediction.words:
        names, table = prediction.words[column]
        return Side(float("nan"), 0.0, dict(zip(names, map(float, table[row]), strict=True)), known)
    mean, spread = float(prediction.mean[row, column]), float(prediction.spread[row, column])
    return Side(mean, spread, {}, known and bool(np.isfinite(mean)))
