"""Zipped logic sessions: made by construction, the truth unpacked by numpy's own bit functions."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from made_captures import session, zip_bytes

from kilter.importers import logic_session, sampled_lines
from kilter.importers.logic_capture import read_logic_capture
from kilter.importers.logic_session import read_logic_session
from kilter.measure.errors import BadInput
from kilter.signals.bus_activity import together


@pytest.mark.parametrize(("dtype", "pieces"), [("<u1", 1), ("<u1", 7), ("<u2", 1), ("<u4", 3)])
def test_samples_come_out_as_they_went_in(dtype: str, pieces: int, tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    words = np.repeat(rng.integers(0, 2 ** min(8 * np.dtype(dtype).itemsize, 31), 400), rng.integers(1, 9, 400))
    words = words.astype(dtype)
    count = min(8 * words.dtype.itemsize, 30)
    found = read_logic_session(session(tmp_path / "a.sr", words, [f"D{i}" for i in range(count)], pieces=pieces))
    bits = np.unpackbits(words.view(np.uint8).reshape(len(words), -1), axis=1, bitorder="little")
    times, levels = together(list(found.lines.values()), found)
    back = np.repeat(levels, np.diff(times), axis=1)
    assert np.array_equal(back, bits[:, :count].T)
    assert (found.step_s, found.length) == (1e-6, pytest.approx(len(words) * 1e-6))


def test_a_sample_may_lie_across_two_reads(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    words = np.arange(1000, dtype="<u2")
    path = session(tmp_path / "a.sr", words, ["D0", "D1"], pieces=3)
    whole = read_logic_session(path)
    monkeypatch.setattr(logic_session, "PIECE", 37)
    parts = read_logic_session(path)
    assert np.array_equal(whole.lines["D1"].times, parts.lines["D1"].times)


@pytest.mark.parametrize(
    ("rate", "step"), [("1 MHz", 1e-6), ("24 MHz", 1 / 24e6), ("500 kHz", 2e-6), ("8000000", 1.25e-7), ("2 mHz", 5e-7)]
)
def test_sample_rates(rate: str, step: float, tmp_path: Path) -> None:
    found = read_logic_capture(session(tmp_path / "a.bin", np.zeros(9, "u1"), ["D0"], rate=rate))
    assert found.step_s == pytest.approx(step)
    assert bool(found.warnings) == ("mHz" in rate)


def test_analogue_channels_are_left_out_aloud(tmp_path: Path) -> None:
    settings = b"[device 1]\ncapturefile=logic-1\nsamplerate=1 MHz\nprobe1=D0\nunitsize=1\n"
    path = tmp_path / "a.sr"
    path.write_bytes(zip_bytes(metadata=settings, **{"logic-1-1": b"\0\1\0", "analog-1-2-1": b"1234"}))
    found = read_logic_session(path)
    assert found.lines["D0"].times.tolist() == [0, 1, 2]
    assert any("Analogue" in words for words in found.warnings)


HEAD = "[device 1]\ncapturefile=logic-1\n"
GOOD = f"{HEAD}samplerate=1 MHz\nprobe1=D0\nunitsize=1\n"


@pytest.mark.parametrize(
    ("members", "piece"),
    [
        ({"readme": b"hello"}, "readme"),
        ({"metadata": b"no sections here"}, "settings that cannot be read"),
        ({"metadata": b"[global]\na=1\n"}, "no device"),
        ({"metadata": f"{HEAD}samplerate=fast\nprobe1=D0\n".encode()}, "'fast'"),
        ({"metadata": f"{HEAD}samplerate=0 Hz\nprobe1=D0\n".encode()}, "'0 Hz'"),
        ({"metadata": f"{HEAD}samplerate=1 MHz\n".encode()}, "0 lines"),
        ({"metadata": f"{HEAD}samplerate=1 MHz\nprobe9=D0\nunitsize=1\n".encode()}, "9 lines"),
        ({"metadata": f"{HEAD}samplerate=1 MHz\nprobe1=D0\nunitsize=0\n".encode()}, "samples of 0 bytes"),
        ({"metadata": f"{HEAD}samplerate=1 MHz\nprobe1=D0\nunitsize=99999999999\n".encode()}, "99999999999"),
        ({"metadata": GOOD.encode()}, "no sample file"),
        ({"metadata": GOOD.encode(), "logic-1-1": b"\0", "logic-1-3": b"\0"}, "1, 3"),
        ({"metadata": GOOD.encode(), "logic-1": b""}, "no sample"),
        ({"metadata": b"[device 1]\n" + b"x=1\n" * 300_000}, "settings of"),
    ],
)
def test_bad_sessions_are_refused(members: dict[str, bytes], piece: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.sr"
    path.write_bytes(zip_bytes(**members))
    with pytest.raises(BadInput) as caught:
        read_logic_session(path)
    assert piece in str(caught.value)


def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logic_session, "LARGEST_SAMPLES", 100_000)
    path = tmp_path / "bomb.sr"
    path.write_bytes(zip_bytes(metadata=GOOD.encode(), **{"logic-1-1": bytes(200_000)}))
    assert path.stat().st_size < 2000
    with pytest.raises(BadInput, match="200000 bytes"):
        read_logic_session(path)


def test_too_many_changes_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sampled_lines, "MOST_CHANGES", 50)
    path = session(tmp_path / "busy.sr", np.tile(np.array([0, 1], "u1"), 100), ["D0"])
    with pytest.raises(BadInput, match="more than 50 changes"):
        read_logic_session(path)


def test_a_damaged_zip_is_refused(tmp_path: Path) -> None:
    whole = session(tmp_path / "whole.sr", np.random.default_rng(1).integers(0, 255, 5000).astype("u1"), ["D0"])
    raw = bytearray(whole.read_bytes())
    raw[len(raw) // 2] ^= 0xFF
    for name, content in (("flipped.sr", bytes(raw)), ("cut.sr", bytes(raw[:-40]))):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(BadInput, match="damaged"):
            read_logic_session(tmp_path / name)
