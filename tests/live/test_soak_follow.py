"""
`kilter soak follow` against the simulated backend, an independent other end of the wire, and against real sockets.

What is compared with lies outside: what the far end sent, what the rule of two values beyond a limit says by hand, and
what an operating system leaves of a file when it kills a program.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from wire import in_turn, instrument

from kilter.cli.main import run
from kilter.importers.meter_log import read_meter_logs
from kilter.live.soak_log import CUT_OFF, SoakLog
from kilter.measure.errors import BadInput
from kilter.planning.soak.channel import Channel
from kilter.planning.soak.schedule import stages
from kilter.services.follow_soak import BLIND, CHANGE, HAND, HOURS, LIMIT, Followed, Follower, Outcome, Row

METER, SUPPLY = "TCPIP::192.0.2.1::INSTR", "TCPIP::192.0.2.2::INSTR"
PLAN = """kilter = 1
soak = "made up"
hours = 0.002

[channels]
V5 = { quantity = "voltage", low = "4.75 V", high = "5.25 V" }
V9 = { quantity = "voltage", low = "8 V", high = "10 V" }
I9 = { quantity = "current", high = "150 mA" }
"""
ALL = ["--instrument", f"V5={METER}", "--instrument", f"V9={SUPPLY},supply", "--instrument", f"I9={SUPPLY},supply"]
V5 = Channel("V5", "voltage", "V", 4.75, 5.25)


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    return path


def columns(path: Path) -> dict[str, list[float]]:
    return {log.source.rsplit(", ", 1)[1]: log.values.tolist() for log in read_meter_logs(path)}


def test_several_instruments_are_followed_to_the_end(
    plan: Path, tmp_path: Path, simulated: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """5.023 V, 9.01 V and 118 mA are what bench.yaml of the simulated backend says; seven seconds judge no change."""
    path = tmp_path / "log.csv"
    code = run(["soak", "follow", "--plan", str(plan), "--out", str(path), *ALL, "--backend", simulated,
                "--every", "0.5", "--json"])  # fmt: skip
    told = capsys.readouterr()
    found = json.loads(told.out)
    assert (code, found["ending"], found["not_followed"]) == (3, HOURS, [])
    assert "It switches nothing" in told.err.replace("\n  ", " ")
    assert found["verdict"]["hours"] == pytest.approx(0.002, rel=0.15)
    logged = columns(path)
    assert {name: set(values) for name, values in logged.items()} == {
        "V5 (V)": {5.023}, "V9 (V)": {9.01}, "I9 (A)": {0.118}}  # fmt: skip
    assert len(logged["V5 (V)"]) == found["rows"] >= 12


def test_a_limit_ends_it_at_the_second_value_with_a_loud_last_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One value beyond may be a slipped clip; the next one is not: the rule of docs/soak.md, by hand."""
    plan, path = tmp_path / "plan.toml", tmp_path / "log.csv"
    plan.write_text('kilter = 1\nsoak = "x"\nhours = 1\n[channels]\nV5 = { quantity = "voltage", high = "5.25 V" }\n')
    sent = (b"5.0\n", b"5.3\n", b"5.0\n", b"5.3\n", b"5.31\n", b"5.0\n")
    with instrument(in_turn(b"a meter\n", *sent)) as address:
        code = run(["soak", "follow", "--plan", str(plan), "--out", str(path), "--instrument", address, "--every", "0"])
    told = capsys.readouterr()
    assert code == 4
    last = told.err.strip().splitlines()[-1]
    assert last.startswith("STOP: V5 5.31 V")
    assert "Switch the object off" in last
    assert "Verdict: stop" in told.out
    assert columns(path)["V5 (V)"] == [5.0, 5.3, 5.0, 5.3, 5.31]


def test_a_channel_that_is_not_seen_any_more_ends_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan, path = tmp_path / "plan.toml", tmp_path / "log.csv"
    plan.write_text('kilter = 1\nsoak = "x"\nhours = 1\n[channels]\nV5 = { quantity = "voltage", high = "5.25 V" }\n')
    with instrument(in_turn(b"a meter\n", b"5.0\n", b"5.1\n", None)) as address:
        code = run(["soak", "follow", "--plan", str(plan), "--out", str(path), "--instrument", address, "--every", "0"])
    assert code == 5
    assert capsys.readouterr().err.strip().splitlines()[-1].startswith("NOT WATCHED")
    assert columns(path)["V5 (V)"] == [5.0, 5.1]
    assert path.read_text().count("no value") == 3


def started(plan: Path, path: Path, simulated: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "kilter", "soak", "follow", "--plan", str(plan), "--out", str(path), *ALL,
         "--backend", simulated, "--every", "0.02", "--hours", "0.01", "--json"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def until(done: Callable[[], bool], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.02)


def lines(path: Path) -> int:
    return path.read_bytes().count(b"\n") if path.exists() else 0


def test_killed_in_the_middle_the_log_is_whole_and_is_continued(plan: Path, tmp_path: Path, simulated: str) -> None:
    """SIGKILL cannot be caught: what is on the disk then is what the operating system was given."""
    path, before = tmp_path / "log.csv", 0
    for _ in range(3):
        process = started(plan, path, simulated)
        wanted = before + 15
        until(lambda least=wanted: lines(path) > least)
        process.kill()
        process.communicate()
        assert process.returncode == -signal.SIGKILL
        raw = path.read_bytes()
        assert raw.endswith(b"\n")
        assert {row.count(b",") for row in raw.splitlines()} == {4}
        assert lines(path) > before
        before = lines(path)
    process = started(plan, path, simulated)
    until(lambda: lines(path) > before + 15)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    found = json.loads(out)
    assert (process.returncode, found["ending"]) == (3, HAND)
    err = " ".join(err.split())
    assert "is continued after" in err
    assert found["rows"] == lines(path) - 1
    assert "ended by hand" in err
    assert all(len(values) == found["rows"] for values in columns(path).values())


def test_half_a_line_never_counts_as_a_value(tmp_path: Path) -> None:
    """Power that fails may leave half a line: '5.0' of '5.012' is no reading; nothing of it is lost either."""
    path = tmp_path / "log.csv"
    moments = iter(f"2025-11-03T08:00:0{second}.000Z" for second in range(10))
    log = SoakLog(path, [V5], lambda: next(moments))
    log.keep(Row(0.0, (5.012,)))
    whole = path.read_bytes()
    torn = b"2025-11-03T08:00:01.000Z,5.0"
    path.write_bytes(whole + torn)
    again = SoakLog(path, [V5], lambda: next(moments))
    again.keep(Row(0.1, (5.013,)))
    assert path.read_bytes().startswith(whole)
    assert [row.values for row in again.rows] == [(5.012,)]
    assert columns(path)["V5 (V)"] == [5.012, 5.013]
    assert f"{CUT_OFF}{torn.decode()}" in path.read_text()


@pytest.mark.parametrize("there", ["dear diary\n", "time,V9 (V),note\n", "time,V5 (V),note\nsoon,five,\n"])
def test_other_files_are_left_alone(there: str, tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text(there)
    with pytest.raises(BadInput, match=r"notes\.txt"):
        SoakLog(path, [V5])
    assert path.read_text() == there


@pytest.mark.parametrize("half", ["", "ti", "time,V5 (V),no"])
def test_a_heading_that_was_cut_off_is_finished(half: str, tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text(half)
    SoakLog(path, [V5])
    assert path.read_text() == "time,V5 (V),note\n"


@pytest.mark.parametrize(
    ("words", "found"),
    [("V5", "V5"), ("V7=ASRL1::INSTR", "V7"), ("V5=ASRL1::INSTR,loud", "loud"), ("V5=ASRL1::INSTR,family=best", "best"),
     ("V5=ASRL1::INSTR,output=two", "two"), ("=ASRL1::INSTR", "=ASRL1")],
)  # fmt: skip
def test_what_cannot_be_meant(
    words: str, found: str, plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["soak", "follow", "--plan", str(plan), "--out", str(tmp_path / "x.csv"), "--instrument", words]) == 2
    assert found in capsys.readouterr().err


class Told:
    """An instrument that answers from a list; the last one again and again."""

    def __init__(self, values: Iterable[float]) -> None:
        self.values = list(values)

    def ask_number(self, question: str) -> float:  # noqa: ARG002
        return self.values.pop(0) if len(self.values) > 1 else self.values[0]


class Kept:
    """A log in memory."""

    def keep(self, row: Row) -> None:
        """Kept by the follower."""


def followed(
    values: Iterable[float], hours: float, *, at_change: bool = False
) -> tuple[Outcome, list[str], list[float]]:
    """Under a clock of its own, at the pace of the stages: outcome, what was told, pauses in seconds."""
    told: list[str] = []
    pauses: list[float] = []
    follower = Follower([Followed(V5, Told(values), "READ?")], Kept(), told.append, hours, stages(hours), None, 3,
                        at_change)  # fmt: skip
    found = follower.run(lambda: sum(pauses) / 3600, pauses.append)
    return found, told, pauses


def test_the_pace_is_that_of_the_plan() -> None:
    """Of docs/soak.md: every half minute for half an hour, every two minutes to four hours, then every ten."""
    found, _, pauses = followed([5.0], 5.0)
    assert found.ending == HOURS
    paces = [round(one) for one in pauses if one > 1e-6]  # sums of decimal fractions of an hour leave splinters
    assert (paces[0], paces.count(30), paces.count(120), paces.count(600)) == (30, 60, 105, 6)
    assert len(paces) == 60 + 105 + 6
    assert len(found.rows) == pytest.approx(len(paces), abs=1)
    assert sum(pauses) == pytest.approx(5 * 3600)


@pytest.mark.parametrize(("at_change", "ending"), [(False, HOURS), (True, CHANGE)])
def test_a_change_within_limits_is_told_and_ends_it_where_asked(at_change: bool, ending: str) -> None:
    """A step of five standard deviations after ten hours; the generator of numpy is the object."""
    import numpy as np

    noise = np.random.default_rng(8).normal(5.0, 0.01, 2000)
    noise[60 + 105 + 36 :] += 0.05
    found, told, _ = followed(noise.tolist(), 15.0, at_change=at_change)
    assert found.ending == ending
    assert any(words.startswith("V5 changed at about") for words in (found.words, *told))
    assert found.verdict is not None
    assert found.verdict.worst == "changed"
    assert (found.rows[-1].hours < 14.5) == at_change


def test_a_log_that_holds_a_stop_already_is_not_followed_further() -> None:
    follower = Follower([Followed(V5, Told([5.0]), "READ?")], Kept(), lambda _: None, 1.0, stages(1.0), None, 3,
                        rows=[Row(0.0, (5.3,)), Row(0.1, (5.3,))])  # fmt: skip
    found = follower.run(lambda: 0.2, lambda _: None)
    assert (found.ending, len(found.rows)) == (LIMIT, 2)


def test_a_disk_that_is_full_is_told_as_not_watched() -> None:
    class Full:
        def keep(self, row: Row) -> None:  # noqa: ARG002
            raise BadInput("Cannot write the log", os.strerror(28), "room", "Make room.")

    follower = Follower([Followed(V5, Told([5.0]), "READ?")], Full(), lambda _: None, 1.0, stages(1.0), None, 3)
    assert follower.run(lambda: 0.0, lambda _: None).ending == BLIND
