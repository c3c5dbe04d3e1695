"""The soak command on logs whose content is known, because they were made with it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from kilter.cli.main import run
from kilter.importers.soak_plan_file import read_soak_plan
from kilter.live.log_file import LogFile
from kilter.measure.errors import BadInput
from kilter.planning.soak.blocks import independent_blocks, lag_one
from kilter.planning.soak.channel import Channel, judge
from kilter.planning.soak.drift import drift
from kilter.services.read_live import Logged

DEMO = "src/kilter/data/demo"
PLAN = 'kilter = 1\nsoak = "made up"\n\n[channels]\nV5 = { quantity = "voltage", low = "4.75 V", high = "5.25 V" }\n'


def log(path: Path, volts: np.ndarray, every: float = 60.0) -> Path:
    rows = [f"{at * every:.0f},{value:.4f}" for at, value in enumerate(volts)]
    path.write_text("\n".join(["time (s),V5 (V)", *rows]) + "\n")
    return path


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    return path


def judged(plan: Path, *logs: Path, capsys: pytest.CaptureFixture[str], code: int = 0) -> dict:
    assert run(["soak", "judge", *map(str, logs), "--plan", str(plan), "--json"]) == code
    told: dict = json.loads(capsys.readouterr().out)
    return told


def noise(count: int, spread: float = 0.01, seed: int = 2) -> np.ndarray:
    return np.random.default_rng(seed).normal(5.0, spread, count)


def test_a_steady_log_is_steady_and_proves_its_hours(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = judged(plan, log(tmp_path / "a.csv", noise(1441)), capsys=capsys)
    assert told["verdict"] == "steady"
    assert told["hours"] == pytest.approx(24.0)
    # -24 / ln(1 - 0.9): closed form
    assert told["proofs"][-1]["least_mtbf_hours"] == pytest.approx(24 / 2.302585, rel=1e-6)
    # (1 - 0.9) to the power 1 / 1
    assert told["least_switch_on"] == pytest.approx(0.1)


def test_a_small_step_within_limits_is_found_where_it_began(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    volts = noise(1441)
    volts[900:] += 0.012
    found = judged(plan, log(tmp_path / "a.csv", volts), capsys=capsys)["sessions"][0]["channels"][0]
    assert found["verdict"] == "changed"
    assert found["change"]["began_hours"] == pytest.approx(15.0, abs=0.5)
    assert found["change"]["alarm_hours"] < 15.0 + 0.6
    assert found["change"]["after"] - found["change"]["before"] == pytest.approx(0.012, abs=0.006)


def test_a_limit_stops_and_counts_as_a_failure(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    volts = noise(1441)
    volts[200] = 6.0  # one alone may be a slipped clip
    volts[700:] = 4.6
    told = judged(plan, log(tmp_path / "a.csv", volts), capsys=capsys)
    assert told["verdict"] == "stop"
    assert told["sessions"][0]["channels"][0]["stop_hours"] == pytest.approx(700 / 60)
    assert told["failures"] == 1
    assert told["least_switch_on"] is None


def test_a_drift_is_told_with_the_hours_to_its_limit(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A slope of 0.2 mV an hour is found by the line; from 5.005 V it meets 5.25 V after some 1,220 h."""
    hours = np.arange(0, 25, 1 / 20)
    volts = noise(len(hours), 0.002) + 0.0002 * hours
    found = judged(plan, log(tmp_path / "a.csv", volts, 180.0), capsys=capsys)["sessions"][0]["channels"][0]
    assert found["verdict"] == "drifts"  # a line was put in, and a line explains it better than a step
    assert found["drift"]["low"] < 0.0002 < found["drift"]["high"]
    assert found["drift"]["low"] > 0
    assert found["drift"]["hours_to_limit"] < 0.245 / 0.0002


def test_what_was_not_logged_stays_open(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan.write_text(PLAN + 'V9 = { quantity = "voltage", low = "8 V" }\n')
    told = judged(plan, log(tmp_path / "a.csv", noise(1441)), capsys=capsys, code=3)
    assert told["verdict"] == "cannot tell"
    assert any("V9" in words for words in told["open"])


def test_a_pause_in_the_log_proves_nothing(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = log(tmp_path / "a.csv", noise(1441))
    rows = path.read_text().splitlines()
    path.write_text("\n".join(rows[:600] + rows[900:]) + "\n")
    told = judged(plan, path, capsys=capsys, code=3)
    assert told["hours"] == pytest.approx(24.0 - 301 / 60, abs=0.02)


def test_two_sessions_are_two_switch_ons(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    logs = [log(tmp_path / f"{name}.csv", noise(1441, seed=at)) for at, name in enumerate("ab", 20)]
    told = judged(plan, *logs, capsys=capsys)
    assert told["hours"] == pytest.approx(48.0)
    assert told["least_switch_on"] == pytest.approx(0.1**0.5)


def test_a_log_of_a_live_instrument_will_do(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Written by the log file of 'kilter live log' itself, whose columns are named by quantity."""
    file = LogFile(tmp_path / "live.csv", ["voltage"])
    for at, value in enumerate(noise(200)):
        file.keep(Logged(f"2025-11-03T{8 + at // 60:02d}:{at % 60:02d}:00Z", "voltage", float(value), "V"))
    told = judged(plan, tmp_path / "live.csv", capsys=capsys)
    assert told["hours"] == pytest.approx(199 / 60)
    assert told["sessions"][0]["channels"][0]["verdict"] == "steady"


def test_few_values_are_no_proof_of_steadiness(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert judged(plan, log(tmp_path / "a.csv", noise(60)), capsys=capsys, code=3)["verdict"] == "cannot tell"


def test_values_that_hang_together_are_judged_by_blocks() -> None:
    """A first-order autoregression with coefficient 0.8: its blocks must be long, and false alarms stay seldom."""
    random, alarms, sizes = np.random.default_rng(5), 0, []
    for _ in range(40):
        values = np.zeros(4000)
        for n in range(1, 4000):
            values[n] = 0.8 * values[n - 1] + random.normal()
        found = judge(Channel("x"), 0.5 + np.arange(4000) / 60, values)
        alarms += found.change is not None
        sizes.append(found.blocks.size if found.blocks else 0)
    # 67 h of a steady object at one false alarm in 1000 h: 2.7 alarms of 40 expected; 10 would be far beyond chance
    assert np.median(sizes) >= 8
    assert alarms <= 9


def test_correlation_is_that_of_the_definition() -> None:
    random = np.random.default_rng(1)
    values = random.normal(size=400).cumsum() * 0.01 + random.normal(size=400)
    line = np.polyval(np.polyfit(np.arange(400), values, 1), np.arange(400))
    left = values - line
    assert lag_one(values) == pytest.approx((left[1:] * left[:-1]).sum() / (left**2).sum())
    assert independent_blocks(random.normal(size=400), np.arange(400.0), 0.5, 20).size == 1


def test_the_line_is_that_of_another_library() -> None:
    stats = pytest.importorskip("scipy.stats")
    random = np.random.default_rng(4)
    hours = np.linspace(0, 9, 31)
    values = 3 + 0.1 * hours + random.normal(0, 0.2, 31)
    other = stats.linregress(hours, values)
    found = drift(hours, values)
    assert found is not None
    assert found.slope == pytest.approx(other.slope)
    assert found.high - found.slope == pytest.approx(stats.t.ppf(0.975, 29) * other.stderr)


def test_a_plan_is_read_back_as_it_was_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "plan.toml"
    assert run(["soak", "plan", DEMO, "--hours", "72", "--out", str(out), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    read = read_soak_plan(out)
    assert [one.name for one in read.channels] == [one["name"] for one in told["channels"]]
    assert [one.high for one in read.channels] == pytest.approx([one["high"] for one in told["channels"]], rel=1e-8)
    assert sum(one["values"] for one in told["stages"]) == 60 + 105 + 120 + 192  # worked out by hand from the stages
    assert run(["soak", "plan", DEMO, "--hours", "72", "--out", str(out)]) == 2  # never overwritten


def test_proves_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["soak", "proves", "--hours", "216", "--switch-ons", "22"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "at least 93.81 h" in told
    assert "at least 90 % of the times" in told


@pytest.mark.parametrize(("old", "new", "named"), [
    ('low = "4.75 V"', 'low = "5.5 V"', "high"),
    ('low = "4.75 V"', 'low = "4.75 A"', "V"),
    ('"voltage"', '"volts"', "voltage"),
    ("low =", "lowest =", "low"),
    ("kilter = 1", "kilter = 2", "kilter = 1"),
    ("[channels]", "[channel]", "channels"),
])  # fmt: skip
def test_bad_plans_are_refused(plan: Path, old: str, new: str, named: str) -> None:
    plan.write_text(PLAN.replace(old, new, 1))
    with pytest.raises(BadInput, match=named):
        read_soak_plan(plan)


@pytest.mark.parametrize("argv", [
    ["soak", "plan", DEMO, "--hours", "0"],
    ["soak", "plan", DEMO, "--hours", "8", "--state", "off"],
    ["soak", "proves", "--hours", "-1"],
    ["soak", "proves", "--hours", "10", "--confidence", "90"],
    ["soak", "judge", "no such file.csv"],
])  # fmt: skip
def test_bad_input_ends_with_code_2(argv: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(argv) == 2
    assert "Allowed:" in capsys.readouterr().err


def test_pictures(plan: Path, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    path = log(tmp_path / "a.csv", noise(600))
    run(["soak", "judge", str(path), "--plan", str(plan), "--plot", str(tmp_path / "plots")])
    assert (tmp_path / "plots" / "soak.svg").read_text().count("threshold") >= 1
