"""`kilter logic` from a file to suspects."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from made_captures import session, square

from kilter.cli.main import run

BOARD = str(Path(__file__).parent / "processor")
RATE = 48e6


@pytest.fixture
def capture(tmp_path: Path) -> str:
    words = square(6e6, RATE, 0.02) | np.uint8(2)
    words[:2000] &= 1
    return str(session(tmp_path / "clocks.sr", words, ["XTAL", "nRES", "ALE", "A0"], rate="48 MHz"))


def test_from_a_capture_to_suspects(capture: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    readings = str(tmp_path / "readings.csv")
    more = ["--board", BOARD, "--at", "nRES=reset", "--readings", readings, "--json"]
    assert run(["logic", capture, *more, "--reset", "nRES", "--selects", "ALE,A0", "--bus", "ALE,A0"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert {one["point"]: one["quantity"] for one in told["readings"]} == {
        "xtal": "frequency", "ale": "level", "reset": "level"}  # fmt: skip
    assert told["resets"][0]["course"] == "released once"
    assert told["overlaps"][0]["times"] == 1
    assert told["elsewhere"] == ["A0"]
    run(["diagnose", BOARD, "--readings", readings, "--json"])
    suspects = json.loads(capsys.readouterr().out)["suspects"]
    assert suspects[0]["part"] == "U1"


def test_text_says_what_was_not_seen(capture: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["logic", capture, "--address", "XTAL,A0", "--reset", "nRES=high"]) == 0
    said = capsys.readouterr().out
    assert "6.000" in said
    assert "one threshold" in said
    assert "another sample rate" in " ".join(said.split())


def test_picture_has_a_lane_for_every_line(capture: str, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    assert run(["logic", capture, "--plot", str(tmp_path / "new")]) == 0
    drawn = (tmp_path / "new" / "lines.svg").read_text()
    assert all(f">{name}<" in drawn for name in ("XTAL", "nRES", "ALE", "A0"))
    assert (tmp_path / "new" / "lines.png").stat().st_size > 1000


@pytest.mark.parametrize(
    ("more", "piece"),
    [
        (["--readings", "x.csv"], "--board"),
        (["--board", BOARD, "--at", "XTAL"], "CHANNEL=PLACE"),
        (["--board", BOARD, "--at", "D9=ale"], "'D9'"),
        (["--board", BOARD, "--at", "A0=nowhere"], "'nowhere'"),
        (["--board", BOARD, "--state", "off"], "unpowered state"),
        (["--reset", "nRES=middle"], "middle"),
        (["--bus", "A0,A1"], "'A1'"),
        (["--time-base", "-4"], "-4 ppm"),
    ],
)
def test_slips_are_refused(more: list[str], piece: str, capture: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["logic", capture, *more]) == 2
    assert piece in capsys.readouterr().err
