"""
Simulate visits: faults drawn from the priors, readings drawn from what the model predicts for them, tests as advised.

The same model makes the readings and weighs them. So what comes of it tests the weighing, the search and the stop rule,
and says nothing about whether the model is like real boards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from kilter.circuit.board import Board
from kilter.diagnose.priors import Priors
from kilter.diagnose.settings import setting
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instrument
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale, scaled_range
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.diagnose import Diagnoser
from kilter.services.evidence_of import evidence_of, width_of
from kilter.services.report_calibration import Told
from kilter.simulate.prediction import Hypothesis

MOST_TESTS, TRIES = 25, 10_000
LEAST = 1e-4
"""Parts below this probability are not kept."""


@dataclass(frozen=True)
class Object:
    """
    One simulated object.

    Args:
        faults: What is wrong with it.
        number: Its number in the sweep.
        seed: Of the sweep.
    """

    faults: Hypothesis
    number: int
    seed: int

    def random(self, *key: int) -> np.random.Generator:
        """A generator of its own for each thing that is drawn, so that no draw depends on the order of others."""
        return np.random.default_rng([self.seed, self.number, *key])


def drawn(priors: Priors, number: int, seed: int) -> Object:
    """
    An object that does not work, its faults drawn by their prior odds.

    Raises:
        BadInput: The board's parts hardly ever fail.
    """
    most = int(setting("max_faults"))
    random = np.random.default_rng([seed, number])
    for _ in range(TRIES):
        faults = _one(priors, random)
        if 1 <= len(faults) <= most:
            return Object(faults, number, seed)
    raise BadInput("Cannot simulate visits", f"no fault in {TRIES} draws", "a board whose parts can fail", "Check it.")


def visit(board: Board, weigher: Diagnoser, one: Object) -> dict[str, Any]:
    """
    One visit, from the first advised test until the stop rule ends it.

    Returns:
        `number`, `faults`, `tests` (how many were made), `minutes`, `action` of the stop rule, and `calls`: for each
        part its probability at the end and whether it is faulty.
    """
    readings: list[Reading] = []
    minutes = 0.0
    while True:
        diagnosis = weigher.diagnose(readings)
        advice = diagnosis.advice[0] if diagnosis.advice else None
        if diagnosis.decision.action != "test" or advice is None or len(readings) >= MOST_TESTS:
            break
        minutes += advice.minutes
        readings.append(_read(board, weigher, one, advice.test, len(readings)))
    faulty = {part for part, _ in one.faults}
    parts = diagnosis.posterior.parts()
    calls = [[share, part in faulty] for part, share in parts.items() if share >= LEAST]
    return {
        "number": one.number,
        "faults": [list(fault) for fault in sorted(one.faults)],
        "tests": len(readings),
        "minutes": minutes,
        "action": diagnosis.decision.action,
        "calls": calls,
    }


def told(rows: Sequence[dict[str, Any]]) -> list[list[Told]]:
    """What simulated visits said about each part, and what was so."""
    return [[Told(float(share), bool(so)) for share, so in row["calls"]] for row in rows]


def _one(priors: Priors, random: np.random.Generator) -> Hypothesis:
    """Each part healthy or in one of its modes, by their odds."""
    found = set()
    for _, faults in sorted(priors.modes().items()):
        ordered = sorted(faults)
        odds = np.array([0.0, *(priors.log_odds[fault] for fault in ordered)])
        shares = np.exp(odds - np.logaddexp.reduce(odds))
        place = int(np.searchsorted(np.cumsum(shares), random.random() * shares.sum()))
        if 0 < place <= len(ordered):
            found.add(ordered[place - 1])
    return frozenset(found)


def _read(board: Board, weigher: Diagnoser, one: Object, test: Test, taken: int) -> Reading:
    """What the person would write down; one specimen's parts stay the same from reading to reading of a state."""
    assert weigher.chain is not None
    random = one.random(1, taken)
    prediction = weigher.chain.predict(board, board.states[test.state], [one.faults], [test])
    unknown = float(np.nan_to_num(prediction.unknown[0, 0], nan=1.0))
    anything = random.random() < unknown
    gross = random.random() < setting("outlier")
    if prediction.words:
        words, chances = prediction.words[0]
        even = np.full(len(words), 1.0 / len(words))
        share = even if anything or gross else np.asarray(chances[0]) / np.sum(chances[0])
        word = str(random.choice(words, p=share))
        return Reading(test.point, test.quantity, None, word, 0.0, test.state, test.instrument)
    if anything or gross or not np.isfinite(prediction.mean[0, 0]):
        value = _nonsense(board, test, random)
    else:
        scaled = float(prediction.mean[0, 0] + prediction.spread[0, 0] * random.standard_normal())
        if prediction.draws is not None:
            which = int(one.random(2).integers(prediction.draws.shape[1]))
            scaled = float(prediction.draws[0, which, 0])
        value = float(np.asarray(from_scale(test.quantity, [scaled]))[0])
    return _measured(board, test, value, random)


def _measured(board: Board, test: Test, value: float, random: np.random.Generator) -> Reading:
    """With the instrument's own scatter, as the weigher takes it to be."""
    meter = instrument(test.instrument)
    sd = meter.standard_uncertainty(test.quantity, value) if np.isfinite(value) else 0.0
    value += sd * random.standard_normal()
    low, high = quantity(test.quantity).low, quantity(test.quantity).high
    reading = Reading(test.point, test.quantity, float(np.clip(value, low, high)), "", sd, test.state, test.instrument)
    evidence_of(board, reading)  # a reading that could not be weighed would be found here
    return reading


def _nonsense(board: Board, test: Test, random: np.random.Generator) -> float:
    """Any value within the width of the quantity on this board; voltages lie about what the board spans."""
    low, high = scaled_range(test.quantity)
    width = width_of(board, test.quantity)
    scaled = (
        low + (high - low) * random.random() if low >= 0 or width >= high - low else width * (random.random() - 0.2)
    )
    return float(np.asarray(from_scale(test.quantity, [scaled]))[0])
