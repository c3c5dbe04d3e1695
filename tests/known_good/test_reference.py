"""Known-good boards: spread from few samples, reach of a fault, and diagnosis with no schematic."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, stats

import kilter
from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.compare_known_good import AS_GOOD, FAR_OFF, NOT_KNOWN, NOT_READ, OFF, compare_known_good
from kilter.services.evidence_of import make_test
from kilter.simulate.chain import usual_chain
from kilter.simulate.reference import KnownGood, ReferencePredictor, known_good, with_reference
from kilter.simulate.reference.figures import number
from kilter.simulate.reference.reach import Reach
from kilter.simulate.reference.spread import next_board

BOARDS = Path(__file__).parent / "boards"
PANEL = BOARDS / "panel.toml"


@pytest.fixture(scope="module")
def board() -> Board:
    return kilter.load_board(PANEL)


@pytest.fixture(scope="module")
def known(board: Board) -> KnownGood:
    return known_good([kilter.load_readings(BOARDS / f"good{n}.csv", board) for n in (1, 2, 3)])


def healthy(board: Board) -> tuple[Reading, ...]:
    return kilter.load_readings(BOARDS / "good1.csv", board)


@pytest.mark.parametrize("values", [[5.0, 5.2], [1.0, 1.1, 0.9, 1.05], [3.0, 3.0, 3.3]])
def test_interval_from_the_boards_alone(values: list[float]) -> None:
    """Prediction interval of one more sample: scipy.stats.t, an outside library."""
    one = next_board(values, 0.0, 1.0, 0.0)
    n, s = len(values), np.std(values, ddof=1)
    low, high = stats.t.interval(0.95, n - 1, np.mean(values), s * np.sqrt(1 + 1 / n))
    assert one.mean - 1.959964 * one.spread == pytest.approx(low, rel=1e-5)
    assert one.mean + 1.959964 * one.spread == pytest.approx(high, rel=1e-5)


@pytest.mark.parametrize("values", [[5.0], [5.0, 5.3], [4.9, 5.0, 5.02]])
def test_predictive_distribution_by_integration(values: list[float]) -> None:
    """The same density by integrating mean and variance out numerically (scipy.integrate, an outside library)."""
    supposed, weight, n = 0.1, 3.0, len(values)
    mean, squares = np.mean(values), np.sum((np.array(values) - np.mean(values)) ** 2)

    def weigh(v: float) -> float:  # posterior of the variance with the mean integrated out
        prior = v ** -(weight / 2 + 1) * np.exp(-weight * supposed**2 / (2 * v))
        return float(prior * v ** (-(n - 1) / 2) * np.exp(-squares / (2 * v)))

    whole = integrate.quad(weigh, 0, np.inf, epsabs=0, limit=400)[0]
    one = next_board(values, 0.0, supposed, weight)
    for x in (mean, mean + 0.1, mean - 0.4):
        density = integrate.quad(
            lambda v, x=x: weigh(v) * stats.norm.pdf(x, mean, np.sqrt(v * (1 + 1 / n))), 0, np.inf, epsabs=0, limit=400
        )[0]
        assert stats.t.pdf(x, one.dof, one.mean, one.scale) == pytest.approx(density / whole, rel=1e-4)


@pytest.mark.parametrize("boards", [1, 2, 3, 5])
def test_next_healthy_board_lies_inside(boards: int) -> None:
    """
    95 % of 3,000 random types of board, whose spreads differ as the supposed one says they may (by construction).

    Binomial spread of the share is 0.4 %; four of these are allowed.
    """
    rng, weight = np.random.default_rng(boards), number("boards")
    truths = 0.13 * np.sqrt(weight / rng.chisquare(weight, 3000))
    inside = 0
    for truth in truths:
        *read, following = rng.normal(5.0, truth, boards + 1)
        one = next_board(read, 0.0, 0.13, weight)
        inside += abs(following - one.mean) < 1.96 * one.spread
    assert inside / 3000 == pytest.approx(0.95, abs=0.016)


def test_reach_counted_by_hand(board: Board) -> None:
    """R1 sits on drive and base; Q1 and U1 hang on these, so lamp and tick are one part further on."""
    reach = Reach(board).of("R1")
    assert {net: reach[net] for net in ("drive", "base")} == dict.fromkeys(("drive", "base"), number("own_net"))
    assert {net: reach[net] for net in ("lamp", "tick")} == dict.fromkeys(("lamp", "tick"), number("next_net"))
    assert "vcc" not in reach  # a rail is reached by the parts on it only
    assert Reach(board).of("U2")["vcc"] == number("shared_net")
    assert Reach(board).chance("U2", "lamp") == 0.0


def test_healthy_is_predicted_as_it_was_read(board: Board, known: KnownGood) -> None:
    predictor = ReferencePredictor(known)
    tests = [make_test(board, "base", "voltage", "on"), make_test(board, "tick", "level", "on")]
    assert all(predictor.answers(board, test) for test in tests)
    assert not predictor.answers(board, make_test(board, "base", "voltage", "off"))
    told = predictor.predict(board, board.states["on"], [frozenset(), frozenset({("Q1", "open_b")})], tests)
    assert told.mean[0, 0] == pytest.approx(0.68)
    assert told.unknown[:, 0].tolist() == [0.0, pytest.approx(number("own_net"))]
    assert told.unknown[1, 1] == 0.0
    names, chances = told.words[1]
    assert names[int(chances[0].argmax())] == "pulsing"
    assert chances.sum(axis=1) == pytest.approx(1.0)


def test_no_schematic_is_needed(board: Board, known: KnownGood) -> None:
    """Base and collector both at their sources with an open base diode: the transistor (common practice, no source)."""
    assert not board.elements
    assert not board.blocks
    weigher = kilter.Diagnoser(board, with_reference(usual_chain(board), known), not_working=True)
    found = weigher.diagnose(kilter.load_readings(BOARDS / "faulty.csv", board))
    assert found.suspects[0].part == "Q1"
    assert found.suspects[0].probability > 0.9


def test_healthy_object_names_nobody(board: Board, known: KnownGood) -> None:
    found = kilter.Diagnoser(board, with_reference(usual_chain(board), known)).diagnose(healthy(board))
    assert sum(one.probability for one in found.suspects) < 0.2


def test_hotter_than_known_good_points_at_the_part(board: Board, known: KnownGood) -> None:
    """A chip of 9 K that runs at 40 K, all else as on known-good boards, comes first, though one picture may err."""
    readings = [replace(one, value=40.0) if (one.point, one.quantity) == ("U1", "temperature_rise") else one
                for one in healthy(board)]  # fmt: skip
    found = kilter.Diagnoser(board, with_reference(usual_chain(board), known), not_working=True).diagnose(readings)
    before = kilter.Diagnoser(board, with_reference(usual_chain(board), known), not_working=True).diagnose(
        healthy(board)
    )
    assert found.suspects[0].part == "U1"
    assert found.suspects[0].probability > 10 * before.posterior.parts().get("U1", 0.0)


def test_verdicts(board: Board) -> None:
    boards = [kilter.load_readings(BOARDS / f"good{n}.csv", board) for n in (1, 2, 3)]
    own = [one for one in kilter.load_readings(BOARDS / "faulty.csv", board) if one.point != "vcc"]
    own.append(Reading("tick", "level", None, "low", state="on"))
    own.append(Reading("lamp", "duty", 0.5, state="on"))
    rows = compare_known_good(own, boards).rows
    said = {row.key[:2]: row.verdict for row in rows}
    assert said["base", "voltage"] == FAR_OFF
    assert said["base", "diode"] == FAR_OFF
    assert said["drive", "voltage"] == AS_GOOD
    assert said["vcc", "voltage"] == NOT_READ
    assert said["lamp", "duty"] == NOT_KNOWN
    assert [row.verdict for row in rows if row.key[:2] == ("tick", "level")] == [AS_GOOD, OFF]


def test_repeats_on_one_board_are_one_board(board: Board) -> None:
    once = known_good([healthy(board)])
    often = known_good([healthy(board) * 5])
    assert once.numbers.keys() == often.numbers.keys()
    for key, one in once.numbers.items():
        assert often.numbers[key].boards == one.boards == 1
        assert often.numbers[key].spread == pytest.approx(one.spread)


@pytest.mark.parametrize("line", ["R1,done,renewed,,", "vcc,voltage,5 V,on,yes"])
def test_known_good_lines_that_cannot_be_used(board: Board, tmp_path: Path, line: str) -> None:
    (tmp_path / "bad.csv").write_text(f"point,quantity,value,state,doubtful\n{line}\n", "utf-8")
    with pytest.raises(BadInput) as told:
        known_good([kilter.load_readings(tmp_path / "bad.csv", board)])
    assert told.value.do_next


def test_nothing_to_compare_with() -> None:
    with pytest.raises(BadInput, match="no reading"):
        known_good([])


def test_example_of_the_page_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    root = Path(__file__).parents[2]
    monkeypatch.chdir(root)
    code = re.search(r"```python\n(.*?)```", (root / "docs" / "known-good.md").read_text("utf-8"), re.DOTALL)
    assert code is not None
    names: dict[str, object] = {}
    exec(code[1], names)
    assert names["diagnosis"].suspects[0].part == "Q1"  # type: ignore[attr-defined]
