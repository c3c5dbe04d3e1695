"""The command `options` on an invented visit, whose fault is known, and on boards where the answer is plain."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kilter.cli.main import run
from kilter.diagnose.cost import grade_cost
from kilter.measure.errors import BadInput
from kilter.planning.allocation.problem import Lot, StandIn
from kilter.planning.options.rework import leak_kinds
from kilter.services.diagnose import Diagnosis
from kilter.services.plan_rework import plan_rework
from kilter.services.weigh_options import weigh_options
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board, load_readings

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "src" / "kilter" / "data" / "demo"
LADDER = ROOT / "tests" / "cli" / "boards"
A = ["options", str(DEMO), "--readings", str(DEMO / "a.csv")]
FAULTY = ["options", str(LADDER / "ladder.toml"), "--readings", str(LADDER / "faulty.csv")]


@pytest.fixture(scope="module")
def visit_a() -> Diagnosis:
    """Simulated with R41, 100 kilohm, drifted high (tests/demo/truth.toml)."""
    board = load_board(DEMO)
    with diagnoser(board) as weigher:
        return weigher.diagnose(load_readings(DEMO / "a.csv", board))


def test_the_part_that_was_built_in_leads(visit_a: Diagnosis) -> None:
    found = weigh_options(visit_a).plain()
    first = found["options"][0]
    assert first["parts"] == ["R41"]
    assert first["option"] == "replace original"
    losses = [one["loss"] for one in found["options"]]
    assert losses == sorted(losses)
    assert min(losses[0], *(one["loss"] for one in found["tests"])) < found["leave"]
    assert all(0 <= one["fixed"] <= one["helps"] + 1e-9 for one in found["options"])


def test_cost_is_what_its_parts_say(visit_a: Diagnosis) -> None:
    """Minutes, grade (costs.toml), a pad at 180 min and what is no longer as made."""
    for one in weigh_options(visit_a).plain()["options"]:
        extra = 180 * one["pad_risk"] + one["authenticity_loss"]
        assert one["cost"] == pytest.approx(one["minutes"] + grade_cost(one["grade"]) + extra)


def test_a_test_never_saves_less_than_nothing_and_counts_its_cost(visit_a: Diagnosis) -> None:
    found = weigh_options(visit_a).plain()
    best = min(found["leave"], found["options"][0]["loss"])
    assert found["tests"]
    for one in found["tests"]:
        assert one["saves"] >= 0.0
        assert one["loss"] >= one["cost"] + best - one["saves"] - 1e-6


def test_an_object_that_need_not_work_is_left(visit_a: Diagnosis) -> None:
    found = weigh_options(visit_a, static_loss=20.0).plain()
    assert found["action"] == "leave"
    assert found["leave"] <= 20.0


def test_without_a_piece_nothing_is_replaced(visit_a: Diagnosis) -> None:
    found = weigh_options(visit_a, lots=[Lot("tin 2", "resistor 47k", 5, 0.98)]).plain()
    assert "R41 (resistor 100k)" in found["not_in_stock"]
    assert not [one for one in found["options"] if one["piece"]]
    found = weigh_options(visit_a, lots=[Lot("tin 3", "resistor 100k", 5, 0.98)]).plain()
    assert found["options"][0]["origin"] == "tin 3"


@pytest.mark.parametrize(
    ("verdict", "there"), [("unknown", False), ("not", False), ("fit", True), ("conditions", True)]
)
def test_a_substitute_that_is_not_known_to_fit_is_no_option(visit_a: Diagnosis, verdict: str, *, there: bool) -> None:
    lots, stands = [Lot("tin 4", "resistor 120k", 5, 0.9)], [StandIn("resistor 100k", "resistor 120k", verdict)]
    found = weigh_options(visit_a, lots=lots, stand_ins=stands).plain()
    assert bool([one for one in found["options"] if one["piece"] == "substitute"]) == there


def test_open_resistor_of_a_ladder(capsys: pytest.CaptureFixture[str]) -> None:
    """R3 is open: replacing R3 leads."""
    assert run([*FAULTY, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["options"][0]["parts"] == ["R3"]


def test_the_table_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(FAULTY) == 0
    told = capsys.readouterr().out
    for words in ("WHAT TO DO", "leave it, display static", "R3: replace it", "CAUTIONS", "does not say"):
        assert words in told


def test_rework(capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        run([*FAULTY, "--rework", "R3:replace original", "--leak", "alkaline", "--heated-before", "2", "--json"]) == 0
    )
    plan = json.loads(capsys.readouterr().out)
    assert plan["joints"] == 2
    assert plan["heat_cycles"] == 2
    assert plan["too_hot"]
    assert plan["steps"][1].startswith("Clean the leak first")
    assert any("hazardous waste" in words for words in plan["cautions"])


def test_rework_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*FAULTY, "--rework", "R3"]) == 0
    told = capsys.readouterr().out
    for words in ("STEPS", "2 joints, each heated 2 times", "CAUTIONS", "does not say that the object is safe"):
        assert words in " ".join(told.split())


@pytest.mark.parametrize(
    "more", [["--rework", "R999"], ["--rework", "R3:paint"], ["--static-loss", "-1"], ["--static-loss", "nan"],
             ["--rework", "R3", "--heated-before", "-1"]]
)  # fmt: skip
def test_what_cannot_be_used(capsys: pytest.CaptureFixture[str], more: list[str]) -> None:
    assert run([*FAULTY, *more]) == 2
    assert "Allowed:" in capsys.readouterr().err


@pytest.mark.parametrize("leak", leak_kinds())
def test_every_leak_has_its_check_and_cautions(visit_a: Diagnosis, leak: str) -> None:
    """Never a base on a base or an acid on an acid; where it is not known what leaked, no agent is named at all."""
    plan = plan_rework(visit_a.visit.board, weigh_options(visit_a).ranking, "R41", leak=leak)
    assert "pH paper" in plan.clean or leak == "lithium"
    assert len(plan.cautions) > 5
    assert ("weak acid" in plan.clean) == (leak in ("alkaline", "capacitor"))
    assert ("sodium bicarbonate" in plan.clean) == (leak == "acid")


def test_a_leak_that_nobody_knows(visit_a: Diagnosis) -> None:
    with pytest.raises(BadInput, match="the leak 'honey'"):
        plan_rework(visit_a.visit.board, weigh_options(visit_a).ranking, "R41", leak="honey")
