"""Instruments on a real socket that fall silent, are unplugged, answer garbage, late, or half a block."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
from wire import in_turn, instrument, late, says

from kilter.importers.meter_log import read_meter_logs
from kilter.live.block import ask_block
from kilter.live.connection import NoAnswer, connect
from kilter.live.log_file import LogFile
from kilter.live.profiles import scope_profile
from kilter.live.scope import grab_trace
from kilter.measure.errors import BadInput
from kilter.services.read_live import log_values

PREAMBLE = b"0,0,600,1,1.0E-6,-3.0E-4,0,4.0E-2,1.5,128\n"
"""Format, type, points, count, then x increment, origin, reference, then y increment, origin, reference."""


def block(data: bytes) -> bytes:
    """As IEEE 488.2-1992, 8.7.9 has it (from memory): the example there is '#' digit length data."""
    length = str(len(data)).encode()
    return b"#" + str(len(length)).encode() + length + data + b"\n"


SAMPLES = bytes(range(28, 228)) * 3


@pytest.mark.parametrize(
    ("answer", "piece"),
    [
        (b"", "silence"),
        (None, "broken connection"),
        (b"\xff\xfe\x00\x12\n", "no text"),
        (b"hello\n", "'hello'"),
        (b"\n", "''"),
        (b"9" * 200_000, "without an end"),
    ],
)
def test_what_is_no_answer(answer: bytes | None, piece: str) -> None:
    with instrument(in_turn(answer)) as address, connect(address) as meter:
        began = time.monotonic()
        with pytest.raises(NoAnswer) as caught:
            meter.ask_number("READ?")
        assert time.monotonic() - began < 20.0
    found = str(caught.value)
    assert piece in found or (answer is None and "silence" in found)
    assert all((caught.value.doing, caught.value.found, caught.value.allowed, caught.value.do_next))
    assert "127.0.0.1" in caught.value.doing


def test_nothing_at_the_address() -> None:
    """The backend takes a refused connection for an open one, so that the first question finds out."""
    with pytest.raises(NoAnswer, match=r"127\.0\.0\.1"), connect("TCPIP::127.0.0.1::9::SOCKET") as meter:
        meter.identify()
    with pytest.raises(NoAnswer, match="Cannot connect"), connect("a meter"):
        pass


def test_a_late_answer_is_not_taken_for_the_next() -> None:
    with instrument(late(b"1.0\n", 0.6, b"2.0\n")) as address, connect(address) as meter:
        with pytest.raises(NoAnswer, match="silence"):
            meter.ask_number("READ?")
        time.sleep(0.6)
        assert meter.ask_number("READ?") == 2.0


@pytest.mark.parametrize("data", [b"", b"#", b"\n\n", SAMPLES, bytes(range(256)) * 400])
def test_blocks_come_out_as_they_went_in(data: bytes) -> None:
    with instrument(in_turn(block(data), b"1.0\n")) as address, connect(address) as scope:
        assert ask_block(scope, "CURVe?") == data


@pytest.mark.parametrize("answer", [b"5.0\n", b"#0abc\n", b"#9999999999abc", b"#3ab1\n", b"#x"])
def test_what_is_no_block(answer: bytes) -> None:
    with instrument(in_turn(answer)) as address, connect(address) as scope, pytest.raises(NoAnswer) as caught:
        ask_block(scope, "CURVe?")
    assert "block" in caught.value.doing


@pytest.mark.parametrize(
    ("family", "volts"),
    [
        ("preamble", lambda raw: (raw - 128.0) * 0.04 + 1.5),
        ("preamble_levels", lambda raw: (raw - 128.0 - 1.5) * 0.04),
    ],
)
def test_a_trace(family: str, volts: object) -> None:
    """Formulas as the families' users published them; see data/live_profiles.toml."""
    answer = says(WAVeform_PREamble=PREAMBLE, WAVeform_DATA=block(SAMPLES))
    with instrument(answer) as address, connect(address) as scope:
        found = grab_trace(scope, scope_profile(family), 2)
    raw = np.frombuffer(SAMPLES, np.uint8).astype(float)
    assert found.values == pytest.approx(volts(raw))  # type: ignore[operator]
    assert (found.interval, found.start, found.name, found.warnings) == (1e-6, -3e-4, "channel 2", ())


def test_a_trace_by_single_questions() -> None:
    answer = says(
        WFMPre_XINcr=b"2.0E-6\n", WFMPre_XZEro=b"0\n", WFMPre_YMUlt=b"0.02\n", WFMPre_YZEro=b"0.1\n",
        WFMPre_YOFf=b"5\n", CURVe=block(np.array([-100, 5, 100], np.int8).tobytes()),
    )  # fmt: skip
    with instrument(answer) as address, connect(address) as scope:
        found = grab_trace(scope, scope_profile("wfmpre"))
    assert found.values == pytest.approx([0.1 - 105 * 0.02, 0.1, 0.1 + 95 * 0.02])


def test_half_a_block_is_kept_and_said() -> None:
    half = block(SAMPLES * 8)[: 6 + 2500]
    with (
        instrument(says(WAVeform_PREamble=PREAMBLE, WAVeform_DATA=half)) as address,
        connect(address) as scope,
    ):
        found = grab_trace(scope, scope_profile("preamble"))
    assert 2048 <= len(found.values) <= 2500
    assert any("broke off" in words for words in found.warnings)


@pytest.mark.parametrize(
    "preamble", [b"1,2,3\n", b"a,b,c,d,e,f,g,h,i,j\n", b"0,0,1,1,0,0,0,1,0,0\n", b"0,0,1,1,nan,0,0,1,0,0\n"]
)
def test_a_scale_that_cannot_be(preamble: bytes) -> None:
    answer = says(WAVeform_PREamble=preamble, WAVeform_DATA=block(SAMPLES))
    with instrument(answer) as address, connect(address) as scope, pytest.raises(NoAnswer, match="family"):
        grab_trace(scope, scope_profile("preamble"))


def test_flat_and_clipped_traces_are_doubted() -> None:
    for data, piece in ((bytes(100), "same"), (bytes([0, 200] * 50), "clipped")):
        answer = says(WAVeform_PREamble=PREAMBLE, WAVeform_DATA=block(data))
        with instrument(answer) as address, connect(address) as scope:
            assert piece in grab_trace(scope, scope_profile("preamble")).warnings[0]


def test_a_log_outlives_its_instrument(tmp_path: Path) -> None:
    """Two values, one silence, garbage, one value, then unplugged: three values on disk, and an error that says so."""
    path = tmp_path / "log.csv"
    answers = in_turn(b"5.01\n", b"5.02\n", b"", b"what?\n", b"5.03\n", None)
    with instrument(answers) as address, connect(address) as meter:
        keep = LogFile(path, ["voltage"]).keep
        with pytest.raises(BadInput, match="after 3 values") as caught:
            log_values(meter, {"voltage": "READ?"}, keep, entries=20, every_s=0, wait=lambda _: None, tries=3)
        assert "kept" in caught.value.do_next
    (log,) = read_meter_logs(path)
    assert log.values.tolist() == [5.01, 5.02, 5.03]
    lines = path.read_text().splitlines()
    assert sum("no value" in line for line in lines) == len(lines) - 4 >= 5
