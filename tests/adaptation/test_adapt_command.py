"""`kilter adapt` as a person and as a script meet it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from bench_circuits import at

from kilter.cli.main import run
from kilter.simulate.ngspice import NgspiceWorker

VIDEO = ["adapt", "video", "--low", "0.5 V", "--high", "3 V", "--source", "470", "--supply", "12 V"]
TRANSFORMER = ["transformer", "--plate", "100", "--mains", "230", "--draws", "35", "--hertz", "50"]
QUIET = ["adapt", "decoupling", "--rail", "12", "--amps", "20m", "--wanted", "2m"]


def told(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> dict[str, object]:
    assert run([*words, "--json"]) == code
    found: dict[str, object] = json.loads(capsys.readouterr().out)
    return found


def test_text_names_reversible_ways_first_and_never_calls_it_safe(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(VIDEO) == 0
    text = capsys.readouterr().out
    assert text.index("grade 3") < text.index("grade 5") < text.index("grade 6")
    assert "Drilling" in text[text.index("grade 6") :]
    assert "approval" in text[text.index("grade 6") :]
    assert "Nothing here says that anything may be" in " ".join(text.split())
    assert " safe" not in text
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.ngspice
def test_netlist_goes_into_ngspice_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its level at rest and at 100 kHz is what the command told."""
    file = tmp_path / "driver.cir"
    made = told(capsys, *VIDEO, "--netlist", str(file))
    assert file.read_text("utf-8") == made["netlist"]
    with NgspiceWorker() as worker:
        gain = abs(worker.ac(file.read_text("utf-8"), [100e3])["out"][0])
    figure = made["figures"][0]  # type: ignore[index]
    assert 2.5 * gain == pytest.approx(figure["value"][1], rel=2e-3)
    assert run([*VIDEO, "--netlist", str(file)]) == 2, "nothing is overwritten"
    assert "Name another file" in capsys.readouterr().err


def test_pictures(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    assert run([*VIDEO, "--plot", str(tmp_path)]) == 0
    assert "within tolerance" in (tmp_path / "response.svg").read_text("utf-8")
    assert (tmp_path / "response.png").stat().st_size > 10_000


def test_noise_line_comes_from_a_capture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A rail with 20 mV at 31.25 kHz, recorded, analysed by the capture command, and fed to the design."""
    time = np.arange(20_000) / 1e6
    rail = 12 + 20e-3 * np.sin(2 * np.pi * 31250 * time) + 2e-3 * np.sin(2 * np.pi * 62500 * time)
    rows = ["time (s),RAIL (V)", *(f"{one:.7f},{volts:.6f}" for one, volts in zip(time, rail, strict=True))]
    (tmp_path / "rail.csv").write_text("\n".join(rows), "utf-8")
    run(["capture", str(tmp_path / "rail.csv"), "--lines-of", "31.25 kHz", "--json"])
    (tmp_path / "rail.json").write_text(capsys.readouterr().out, "utf-8")
    by_capture = told(capsys, *QUIET, "--capture", str(tmp_path / "rail.json"))
    by_hand = told(capsys, *QUIET, "--hertz", "31.25 kHz", "--noise", "20m")
    assert by_capture["parts"] == by_hand["parts"]
    figure = by_capture["figures"][0]  # type: ignore[index]
    assert figure["value"] == pytest.approx(by_hand["figures"][0]["value"], rel=0.01)  # type: ignore[index]


def test_rates_come_from_a_capture_of_video(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rates = {"line_rate": {"value": 15625.0}, "field": {"value": 50.08}}
    (tmp_path / "seen.json").write_text(json.dumps({"composite": {"system": "625", "results": rates}}), "utf-8")
    made = told(capsys, "adapt", "signal", "--capture", str(tmp_path / "seen.json"), "--display", "525")
    assert made["standard"] == "625 lines, 50 fields"
    assert made["lines"] == pytest.approx(312.0, abs=0.01)
    assert any("another field rate" in one for one in made["notes"])  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("words", "code"),
    [(TRANSFORMER, 3), ([*TRANSFORMER, "--plate-hertz", "50/60"], 0), ([*TRANSFORMER, "--plate-hertz", "60"], 3),
     (["regulator", "--low", "8.5", "--high", "13", "--volts", "5", "--amps", "0.5"], 0),
     (["converter", "--volts", "5", "--amps", "1", "--noise", "50m", "--hertz", "150k", "--wanted", "5m"], 0),
     (["audio", "--level", "3", "--source", "8", "--rest", "6"], 0), (["signal", "--line", "24k"], 3)],
)  # fmt: skip
def test_exit_code_tells_what_is_met(words: list[str], code: int, capsys: pytest.CaptureFixture[str]) -> None:
    made = told(capsys, "adapt", *words, code=code)
    if "standing" in made:
        assert (made["standing"] == "within") == (code == 0)
        assert all(one["grade"] <= 6 for one in made["routes"])  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("words", "said"),
    [([*VIDEO[:-1], "3 V"], "4.5 to 24 V"), ([*VIDEO[:2], "--low", "1 V", "--high", "1 V", *VIDEO[6:]], "0.05 to 20 V"),
     ([*VIDEO[:-1], "12 furlongs"], "furlongs"), ([*VIDEO, "--tilt", "0"], "of tilt"),
     ([*VIDEO, "--bandwidth", "nan"], "nan"),
     (["adapt", "audio", "--level", "-1", "--source", "8"], "above 0"),
     (["adapt", "audio", "--level", "1", "--source", "8", "--earthed", "perhaps"], "yes or no"),
     (QUIET, "--hertz and --noise"), ([*QUIET, "--hertz", "50", "--capture", "a.json"], "one of the two"),
     ([*QUIET, "--capture", "no-such.json"], "no-such.json"), (["adapt", "signal"], "--line"),
     (["adapt", "signal", "--line", "0"], "above 0"),
     (["adapt", "regulator", "--low", "4", "--high", "9", "--volts", "5", "--amps", "1"], "above the output"),
     (["adapt", "converter", "--volts", "5", "--amps", "0", "--noise", "1", "--hertz", "1k", "--wanted", "1"],
      "above 0"),
     (["adapt", *TRANSFORMER[:-1], "0"], "above 0")],
)  # fmt: skip
def test_what_cannot_be_used_is_told(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(words) == 2
    heard = capsys.readouterr().err
    assert said in heard
    assert "Traceback" not in heard


@pytest.mark.parametrize("text", ["", "{", "[]", "3", '{"lines": {}}', '{"lines": {"A": [{}]}}', '{"lines": {"A": 3}}'])
def test_captures_of_another_form(text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "odd.json").write_text(text, "utf-8")
    assert run([*QUIET, "--capture", str(tmp_path / "odd.json")]) == 2
    assert run(["adapt", "signal", "--capture", str(tmp_path / "odd.json")]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_several_channels_have_to_be_told_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    line = [{"frequency": 31250.0, "amplitude": 0.02}]
    (tmp_path / "two.json").write_text(json.dumps({"lines": {"A": line, "B": line}}), "utf-8")
    assert run([*QUIET, "--capture", str(tmp_path / "two.json")]) == 2
    assert "--channel" in capsys.readouterr().err
    assert run([*QUIET, "--capture", str(tmp_path / "two.json"), "--channel", "B"]) == 0


def test_course_is_read_between_its_samples() -> None:
    """The reader of the ngspice tests itself: halfway between 0 V and 2 V is 1 V."""
    assert at({"time": np.array([0.0, 1.0]), "out": np.array([0.0, 2.0])}, "out")(0.5) == 1.0
