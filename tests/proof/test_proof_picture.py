"""The picture of a proof: guard bands beside their limits, from the normal distribution of another library."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.stats import norm

from kilter.cli.main import run
from kilter.planning.proof.decide import ACCEPTED, CANNOT_TELL, OPEN, REJECTED
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.acceptance_list import Item
from kilter.services.evidence_of import make_test
from kilter.services.prove_repair import Proof, Proved, prove_repair
from kilter.services.strips import Strip, strip_of
from kilter.wiring.figures import require_plotting
from kilter.wiring.loading import load_board
from kilter.wiring.proof_plots import NARROW, WIDE, proof_figure

DEMO = "src/kilter/data/demo"
RISK = 0.05


@pytest.fixture(scope="module")
def test() -> Test:
    return make_test(load_board(DEMO), "V5", "voltage", "bench")


def judged(test: Test, low: float, high: float, value: float | None, spread: float) -> Proved:
    """Held against its limits by the rule itself."""
    reading = () if value is None else (Reading("V5", "voltage", value, uncertainty=spread, state="bench"),)
    item = Item(test, ("asked for",), low, high, source="board file")
    return prove_repair(load_board(DEMO), [item], (), reading, RISK).items[0]


def strip(one: Proved) -> Strip:
    found = strip_of(one, RISK)
    assert found is not None
    return found


@pytest.mark.parametrize("spread", [0.02, 0.06, 0.12])
def test_guard_bands_end_where_the_chance_is_95_per_cent(test: Test, spread: float) -> None:
    """Limits 4.75 V and 5.25 V stand at 1/4 and 3/4, so that a volt is one strip; JCGM 106:2012, 8.3.2, by scipy."""
    found = strip(judged(test, 4.75, 5.25, 5.1, spread))
    assert found.limits == pytest.approx((0.25, 0.75))
    assert found.value == pytest.approx(0.25 + 0.35)
    assert found.bar == pytest.approx(norm.ppf(0.95) * spread)
    assert found.accepted is not None
    end = found.accepted[1] + 4.5  # back in volt
    within = norm.cdf((5.25 - end) / spread) - norm.cdf((4.75 - end) / spread)
    assert within == pytest.approx(0.95)
    outer = found.guards[1][1] + 4.5
    assert norm.sf((outer - 5.25) / spread) == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("value", "spread", "verdict"),
    [(5.0, 0.02, ACCEPTED), (5.23, 0.02, CANNOT_TELL), (5.26, 0.02, CANNOT_TELL), (5.30, 0.02, REJECTED),
     (5.0, 0.4, CANNOT_TELL), (4.6, 0.02, REJECTED)],
)  # fmt: skip
def test_where_a_reading_stands_is_its_verdict(test: Test, value: float, spread: float, verdict: str) -> None:
    """In the accepted zone, in a guard band, or beyond it: the picture and the rule say the same."""
    one = judged(test, 4.75, 5.25, value, spread)
    assert one.verdict == verdict
    found = strip(one)
    assert found.value is not None
    zone = found.accepted is not None and found.accepted[0] <= found.value <= found.accepted[1]
    guard = any(left <= found.value <= right for left, right in found.guards)
    assert (zone, guard) == {ACCEPTED: (True, False), CANNOT_TELL: (False, True), REJECTED: (False, False)}[verdict]


@pytest.mark.parametrize(("low", "high"), [(-math.inf, 5.25), (4.75, math.inf)])
def test_a_single_limit_stands_in_the_middle(test: Test, low: float, high: float) -> None:
    found = strip(judged(test, low, high, 5.0, 0.05))
    assert found.limits == pytest.approx((0.5,))
    assert found.value is not None
    assert 0 <= found.value <= 1
    ((left, right),) = found.guards
    assert right - left == pytest.approx(2 * found.bar)  # one guard band on either side of the limit


def test_what_was_not_read_has_limits_and_no_guard_bands(test: Test) -> None:
    found = strip(judged(test, 4.75, 5.25, None, 0.0))
    assert (found.value, found.guards, found.accepted) == (None, (), None)


def test_without_limits_there_is_no_strip(test: Test) -> None:
    assert strip_of(judged(test, math.nan, math.nan, 5.0, 0.02), RISK) is None
    assert strip_of(judged(test, -math.inf, math.inf, 5.0, 0.02), RISK) is None


@pytest.mark.parametrize("layout", [WIDE, NARROW])
def test_every_item_has_its_row_and_every_verdict_its_own_shape(test: Test, layout: object) -> None:
    require_plotting()
    readings = [(5.0, 0.02), (5.23, 0.02), (5.3, 0.02), (None, 0.0)]
    items = tuple(judged(test, 4.75, 5.25, *one) for one in readings)
    proof = Proof("a board", (), items, RISK, {}, (), ())
    axes = proof_figure(proof, layout).axes[0]  # type: ignore[arg-type]
    words = [one.get_text() for one in axes.texts]
    assert [one for one in words if one in (ACCEPTED, CANNOT_TELL, REJECTED, OPEN)].count(OPEN) == 1
    assert sum(one.startswith("V5 voltage") for one in words) == len(items)
    shapes = {str(line.get_marker()) for line in axes.lines} - {"None", ""}
    assert shapes == {"o", "D", "X"}


def test_a_reading_far_off_is_an_arrow(test: Test) -> None:
    require_plotting()
    one = judged(test, 4.75, 5.25, 12.0, 0.02)
    axes = proof_figure(Proof("a board", (), (one, replace(one)), RISK, {}, (), ())).axes[0]
    assert {str(line.get_marker()) for line in axes.lines} - {"None", ""} == {">"}


def test_the_command_draws(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "drawn"
    code = run(["proof", DEMO, "--readings", f"{DEMO}/a.csv", "--fault", "R41:high", "--plot", str(folder)])
    assert code == 3
    assert capsys.readouterr().err.count("Drawn:") == 2
    drawn = (folder / "proof.svg").read_text("utf-8")
    assert re.search(r">rejected<", drawn)
    assert "<dc:date>" not in drawn
    assert (folder / "proof.png").stat().st_size > 10_000
