"""The command and the service: from a file to readings that are weighed."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from kilter.cli.main import run
from kilter.importers.captures.read_capture import read_capture
from kilter.services.read_capture import analyse_capture, scope_readings
from kilter.wiring.loading import load_board, load_readings

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "src" / "kilter" / "data" / "demo"


@pytest.fixture
def clock(tmp_path: Path) -> Path:
    """A 1 MHz square wave of 0 to 5 V at 100 MS/s on CH1, 5 V with noise on CH2."""
    rng = np.random.default_rng(1)
    t = np.arange(8000) * 1e-8
    phase = t * 1e6 % 1
    clean = 5 * np.clip(np.minimum(phase / 0.03, (0.5 - phase) / 0.03 + 0.5), 0, 1)
    table = np.column_stack([t, clean + rng.normal(0, 0.03, 8000), 5 + rng.normal(0, 0.01, 8000)])
    path = tmp_path / "clock.csv"
    np.savetxt(path, table, delimiter=",", header="Time (s),CH1 (V),CH2 (V)", fmt="%.8g", comments="")
    return path


def test_plain_data(clock: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["capture", str(clock), "--json", "--lines-of", "1 MHz"]) == 0
    told = json.loads(capsys.readouterr().out)
    first, second = told["channels"]
    assert (first["kind"], second["kind"]) == ("two states", "steady")
    assert first["results"]["frequency"]["value"] == pytest.approx(1e6, rel=1e-5)
    assert second["results"]["mean"]["value"] == pytest.approx(5, abs=0.01)
    assert told["lines"]["CH1 (V)"][0]["frequency"] == pytest.approx(1e6)
    page = (ROOT / "docs" / "captures.md").read_text("utf-8")
    keys = [*told, *first, *first["results"], *first["missing"]]
    assert [key for key in keys if f"`{key}`" not in page and f"`{key}[]`" not in page] == []


def test_text(clock: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["capture", str(clock), "--probe", "CH1 (V)=10"]) == 0
    told = capsys.readouterr().out
    assert "50.0 ± 0.9 V" in told
    assert "Not told" in told


def test_readings_are_written_and_weighed(clock: Path, tmp_path: Path) -> None:
    made = tmp_path / "readings.csv"
    arguments = ["--board", str(DEMO), "--at", "1=COLL1", "--at", "2=OUT", "--state", "bench", "--readings", str(made)]
    assert run(["capture", str(clock), *arguments]) == 0
    readings = load_readings(made, load_board(DEMO))
    by_key = {(one.point, one.quantity): one for one in readings}
    frequency = by_key["COLL1", "frequency"]
    assert frequency.value == pytest.approx(1e6, rel=1e-4)
    assert 0 < frequency.uncertainty < 1000
    assert by_key["OUT", "voltage"].value == pytest.approx(5, abs=0.02)
    assert all("SHA-256" in one.note and one.state == "bench" for one in readings)


def test_service_gives_the_same(clock: Path) -> None:
    capture = read_capture(clock)
    made = scope_readings(capture, analyse_capture(capture), load_board(DEMO), said={"CH2 (V)": "OUT"}, state="bench")
    assert {one.point for one in made.readings} == {"OUT"}
    assert made.places == {"CH2 (V)": "OUT"}


@pytest.mark.parametrize("arguments", [
    ["--probe", "zero"], ["--probe", "CH9=10"], ["--time-base", "x"], ["--composite", "CH9"], ["--composite", "2"],
    ["--board", str(DEMO), "--at", "CH1"], ["--board", str(DEMO), "--at", "1=NOWHERE", "--state", "bench"],
    ["--interval", "-1 s"], ["--lines-of", "0 Hz"],
])  # fmt: skip
def test_wrong_options_are_explained(clock: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["capture", str(clock), *arguments]) == 2
    message = capsys.readouterr().err
    assert "Allowed:" in message
    assert "Traceback" not in message


def test_board_without_a_placed_channel_stays_unanswered(clock: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["capture", str(clock), "--board", str(DEMO), "--state", "bench"]) == 3
    assert "--at CHANNEL=POINT" in capsys.readouterr().out


def test_pictures(clock: Path, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    folder = tmp_path / "pictures"
    assert run(["capture", str(clock), "--plot", str(folder), "--cursor", "10 us"]) == 0
    assert len(list(folder.glob("*.svg"))) == 4
    assert run(["capture", str(clock), "--plot", str(folder), "--cursor", "10 s"]) == 2
