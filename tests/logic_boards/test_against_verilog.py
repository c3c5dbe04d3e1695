"""
Predicted words against those of an outside simulator, healthy and with faults.

Authority: authorities/logic_boards, iverilog runs with a program, contents and bus timing of their own; the equations
of the chips are shared. Limits: a word that happened should seldom have been called all but impossible (the probe's
misreadings are 2 to 3 %, judgement), and the true fault should explain its board better than 'nothing wrong' does.
Not every fault shows at the nets: of the controller's, few do. Whatever may follow from wrong data is doubted net by
net, which takes a little from the true fault at each: over a dozen nets, as many as anybody reads, little in all.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from kilter.circuit.board import Board
from kilter.importers.load import load_board
from kilter.services.evidence_of import make_test
from kilter.simulate.logic.predictor import LogicPredictor
from kilter.simulate.prediction import Hypothesis

ROOT = Path(__file__).parent.parent.parent
NAMES = ("terminal", "controller")
GOOD: Hypothesis = frozenset()
READ_NETS = 12


def told(name: str) -> list[tuple[Hypothesis, np.ndarray]]:
    """For each run its fault set and the chance, under 'nothing wrong' and under that, of each word that was seen."""
    board: Board = load_board(Path(__file__).parent / "data" / f"{name}.net")
    runs = json.loads((ROOT / "authorities" / "logic_boards" / f"{name}.json").read_text("utf-8"))["runs"]
    sets = [frozenset({tuple(run["fault"])}) if run["fault"] else GOOD for run in runs]
    nets = sorted(runs[0]["words"])
    tests = [make_test(board, net, "level", "on") for net in nets]
    found = LogicPredictor().predict(board, board.states["on"], [GOOD, *sets], tests)
    rows = []
    for number, run in enumerate(runs, 1):
        places = [found.words[column][0].index(run["words"][net]) for column, net in enumerate(nets)]
        rows.append((sets[number - 1], np.array([found.words[c][1][[0, number], p] for c, p in enumerate(places)])))
    return rows


@pytest.fixture(scope="module", params=NAMES)
def rows(request: pytest.FixtureRequest) -> list[tuple[Hypothesis, np.ndarray]]:
    return told(request.param)


def test_what_a_good_board_shows_was_expected(rows: list[tuple[Hypothesis, np.ndarray]]) -> None:
    chances = np.concatenate([chance[:, 0] for faults, chance in rows if not faults])
    assert np.mean(chances < 0.03) < 0.02
    assert np.mean(chances > 0.5) > 0.75


def test_what_a_faulty_board_shows_was_expected(rows: list[tuple[Hypothesis, np.ndarray]]) -> None:
    chances = np.concatenate([chance[:, 1] for faults, chance in rows if faults])
    assert np.mean(chances < 0.03) < 0.03


def test_the_true_fault_explains_its_board_better_than_nothing_wrong(
    rows: list[tuple[Hypothesis, np.ndarray]],
) -> None:
    gains = [float(np.log(np.maximum(chance, 0.005)).sum(axis=0) @ [-1, 1]) for faults, chance in rows if faults]
    assert sum(gains) > 0.0
    nets = len(rows[0][1])
    assert min(gains) * READ_NETS / nets > -2.0  # a fault may be invisible, but must not be told by what it does not do
    assert np.mean([gain > 3.0 for gain in gains]) > 0.25
