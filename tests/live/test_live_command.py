"""`kilter live` against the simulated backend and a socket."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from test_misbehaving import PREAMBLE, SAMPLES, block
from wire import instrument, says

from kilter.cli.main import run
from kilter.importers.load import load_board, load_readings
from kilter.live import connection

BOARD = str(Path(__file__).parents[1] / "logic_captures" / "processor")
METER, SUPPLY = "TCPIP::192.0.2.1::INSTR", "TCPIP::192.0.2.2::INSTR"


def test_a_reading_goes_into_a_readings_file(
    simulated: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "readings.csv"
    for _ in range(2):
        assert run(["live", "read", METER, "--backend", simulated, "--board", BOARD, "--point", "vcc",
                    "--readings", str(path), "--json"]) == 0  # fmt: skip
    assert json.loads(capsys.readouterr().out.split("\n}\n")[0] + "}")["instrument"].startswith("A bench meter")
    readings = load_readings(path, load_board(BOARD))
    assert [(one.point, one.value, one.state) for one in readings] == [("vcc", 5.023, "on")] * 2


def test_log_and_look(simulated: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, readings = str(tmp_path / "log.csv"), str(tmp_path / "readings.csv")
    log = ["live", "log", SUPPLY, "--backend", simulated, "--supply", "--quantity", "voltage,current", "--every", "0"]
    assert run([*log, "--entries", "5", "--out", path]) == 0
    assert run(["live", "look", path]) == 0
    assert "5 values, mean 9.010 V" in capsys.readouterr().out
    look = ["live", "look", path, "--board", BOARD, "--point", "vcc", "--quantity", "voltage", "--readings", readings]
    assert run(look) == 0
    assert load_readings(readings, load_board(BOARD))[0].value == 9.01


def test_a_trace_is_written_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "trace.csv"
    answers = says(IDN=b"A scope\n", WAVeform_PREamble=PREAMBLE, WAVeform_DATA=block(SAMPLES))
    for code in (0, 2):
        with instrument(answers) as address:
            assert run(["live", "trace", address, "--out", str(path)]) == code
    assert "left as it is" in capsys.readouterr().err
    lines = path.read_text().splitlines()
    assert lines[0] == "Time (s),channel 1 (V)"
    assert len(lines) == 1 + len(SAMPLES)
    assert float(lines[1].split(",")[1]) == pytest.approx((SAMPLES[0] - 128) * 0.04 + 1.5)


def test_a_silent_instrument_ends_with_a_message(capsys: pytest.CaptureFixture[str]) -> None:
    with instrument(says()) as address:
        assert run(["live", "read", address]) == 2
    assert "silence" in capsys.readouterr().err


def test_the_extra_is_named_where_it_is_absent(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "pyvisa", None)
    assert run(["live", "list"]) == 2
    assert "kilter[live]" in capsys.readouterr().err
    assert connection.BACKEND == "@py"
