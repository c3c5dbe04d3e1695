"""The memory command and its files: what is answered, and that what cannot be used is refused in four parts."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kilter.cli.main import run
from kilter.importers.march_fails import read_fails
from kilter.importers.memory_bank import read_bank
from kilter.importers.memory_dump import read_dump
from kilter.measure.errors import BadInput

BANK = """
words = 1024
width = 8
[chips.U5]
last = 511
address_pins = ["8", "7"]
select_pins = ["20"]
[chips.U6]
first = 512
lines = [0, 1, 2, 3]
data_pins = ["9", "10", "11", "13"]
[drivers.U9]
address = { 0 = "3", 9 = "5" }
"""
HELD = np.random.default_rng(0).integers(0, 256, 1024).astype(np.uint8)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "good.bin").write_bytes(HELD.tobytes())
    (tmp_path / "bad.bin").write_bytes((HELD | 4).tobytes())
    (tmp_path / "bank.toml").write_text(BANK, encoding="utf-8")
    return tmp_path


def test_dump(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good, bad, bank = (str(folder / name) for name in ("good.bin", "bad.bin", "bank.toml"))
    assert run(["memory", "dump", good, bad, "--bank", bank]) == 0
    assert "data line D2 stuck high or open" in capsys.readouterr().out
    assert run(["memory", "dump", good, bad, bad, "--bank", bank, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["faults"][0]["kind"] == "data_stuck_high"
    assert sum(one["probability"] for one in told["faults"]) + told["rest"] == pytest.approx(1.0)
    assert any(one["mode"] == "stuck_high" and one["log_ratio"] > 0 for one in told["evidence"])


def test_dump_of_another_length_stays_unanswered(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "long.bin").write_bytes(HELD.tobytes() * 2)
    (folder / "short.bin").write_bytes(HELD.tobytes()[:700])
    assert run(["memory", "dump", str(folder / "good.bin"), str(folder / "long.bin")]) == 3
    assert "repeats itself every 1024 words" in capsys.readouterr().out
    assert run(["memory", "dump", str(folder / "good.bin"), str(folder / "short.bin")]) == 3
    assert "only the first 700" in capsys.readouterr().out


def test_fails_and_march(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = folder / "fails.csv"
    path.write_text("address;expected;read\n0x05;0;0x04\n$05;0;04h\n", encoding="utf-8")
    assert run(["memory", "fails", str(path), "--words", "0x40", "--test", "mats+"]) == 0
    assert "single cells wrong" in capsys.readouterr().out
    assert run(["memory", "march", "--test", "march-ss", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["accesses_per_word"] == 22


def test_bank_file(folder: Path) -> None:
    bank = read_bank(folder / "bank.toml")
    assert [(chip.ref, chip.first, chip.last, chip.lines) for chip in bank.chips] == [
        ("U5", 0, 511, tuple(range(8))),
        ("U6", 512, 1023, (0, 1, 2, 3)),
    ]
    assert bank.drivers[0].address == {0: "3", 9: "5"}


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (("words = 1024", "words = -1"), "words"),
        (("width = 8", "width = 9"), "width"),
        (("last = 511", "last = 600"), "U5 and U6"),
        (("last = 511", "last = 5000"), "5000"),
        (("lines = [0, 1, 2, 3]", "lines = [0, 1, 1, 3]"), "lines"),
        (('"9", "10", "11", "13"', '"9"'), "data_pins"),
        (("0 = ", "x = "), "x"),
        (("select_pins", "slect_pins"), "slect_pins"),
        ((BANK, ""), "words"),
    ],
)
def test_bank_that_cannot_be_is_refused(folder: Path, change: tuple[str, str], named: str) -> None:
    path = folder / "other.toml"
    path.write_text(BANK.replace(*change), encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_bank(path)
    assert named in str(caught.value)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "address,read\n1,2\n",
        "address,expected,read\n1,2\n",
        "address,expected,read\n1,x,2\n",
        "address,expected,read\n-1,0,2\n",
    ],
)
def test_fail_list_that_cannot_be_read_is_refused(tmp_path: Path, text: str) -> None:
    (tmp_path / "fails.csv").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput):
        read_fails(tmp_path / "fails.csv")


def test_dump_that_is_no_binary_is_refused(tmp_path: Path) -> None:
    (tmp_path / "text.bin").write_bytes(b":10010000214601360121470136007EFE09D2190140\n")
    for name in ("text.bin", "none.bin", "."):
        with pytest.raises(BadInput):
            read_dump(tmp_path / name)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=300), st.binary(max_size=300), st.sampled_from(["1", "4", "8", "16", "32", "9"]))
def test_any_files_are_answered_or_refused(tmp_path: Path, one: bytes, two: bytes, width: str) -> None:
    (tmp_path / "one.bin").write_bytes(one)
    (tmp_path / "two.bin").write_bytes(two)
    code = run(["memory", "dump", str(tmp_path / "one.bin"), str(tmp_path / "two.bin"), "--width", width])
    assert code in (0, 2, 3)


BOARD = """
kilter = 1
board = "two memories"
[states.on]
powered = true
[parts.U5]
kind = "memory"
pins = { vcc = "V5", gnd = "0" }
[parts.U6]
kind = "memory"
pins = { vcc = "V5", gnd = "0" }
[parts.U9]
kind = "chip"
pins = { vcc = "V5", gnd = "0" }
"""


def test_what_a_dump_says_moves_the_diagnosis(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """
    By Bayes' rule the odds of a mode change by the ratio that the dump gave; nothing else was read.

    Ratios of two modes of one part: what normalises the odds falls out.
    """
    good, bad, bank = (str(folder / name) for name in ("good.bin", "bad.bin", "bank.toml"))
    run(["memory", "dump", good, bad, "--bank", bank, "--json"])
    told = capsys.readouterr().out
    (folder / "told.json").write_text(told)
    (folder / "board.toml").write_text(BOARD)
    (folder / "none.csv").write_text("point,quantity,value,state\n")
    ratios = {(one["part"], one["mode"]): one["log_ratio"] for one in json.loads(told)["evidence"]}
    odds = []
    for more in ([], ["--evidence", str(folder / "told.json")]):
        asked = ["diagnose", str(folder / "board.toml"), "--readings", str(folder / "none.csv"), "--faults", "1"]
        run([*asked, "--json", *more])
        told = capsys.readouterr()
        suspects = {one["part"]: one for one in json.loads(told.out)["suspects"]}
        odds.append({one["mode"]: one["probability"] for one in suspects["U6"]["modes"]})
    assert "U9:open 3" in told.err  # a pin that this board file does not give
    before, after = (one["stuck_high"] / one["wrong"] for one in odds)
    ratio = ratios["U6", "stuck_high"] - ratios.get(("U6", "wrong"), 0.0)
    assert np.log(after / before) == pytest.approx(ratio, abs=0.05)
