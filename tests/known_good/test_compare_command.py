"""`kilter compare` and `kilter diagnose --known-good`: text, plain data, picture, exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kilter.cli.main import run

BOARDS = Path(__file__).parent / "boards"
PANEL, FAULTY = str(BOARDS / "panel.toml"), str(BOARDS / "faulty.csv")
GOOD = [word for n in (1, 2, 3) for word in ("--known-good", str(BOARDS / f"good{n}.csv"))]


def test_marks_what_is_off(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["compare", PANEL, "--readings", FAULTY, *GOOD]) == 0
    marked = [line.split()[1:3] for line in capsys.readouterr().out.splitlines() if line.strip().startswith("* ")]
    assert marked == [["base", "voltage"], ["lamp", "voltage"], ["base", "diode"]]


def test_plain_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["compare", PANEL, "--readings", FAULTY, *GOOD, "--suspects", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    base = next(row for row in told["rows"] if (row["point"], row["quantity"]) == ("base", "voltage"))
    assert base["low"] < min(base["known_good"]) <= max(base["known_good"]) < base["high"] < base["value"]
    assert base["ratio"] > 1
    assert told["diagnosis"]["suspects"][0]["part"] == "Q1"


def test_diagnose_takes_known_good_boards(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["diagnose", PANEL, "--readings", FAULTY, *GOOD, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["suspects"][0]["part"] == "Q1"


def test_what_was_not_read_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = Path(FAULTY).read_text("utf-8").splitlines()
    (tmp_path / "few.csv").write_text("\n".join(lines[:4]), "utf-8")
    assert run(["compare", PANEL, "--readings", str(tmp_path / "few.csv"), *GOOD]) == 3
    assert "7 readings of the known-good boards were not taken" in capsys.readouterr().err


def test_picture(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    assert run(["compare", PANEL, "--readings", FAULTY, *GOOD, "--plot", str(tmp_path)]) == 0
    assert "base voltage" in (tmp_path / "known_good.svg").read_text("utf-8")
    assert (tmp_path / "known_good.png").stat().st_size > 5000


def test_absent_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["compare", PANEL, "--readings", FAULTY, "--known-good", "no-such.csv"]) == 2
    assert "Allowed:" in capsys.readouterr().err
