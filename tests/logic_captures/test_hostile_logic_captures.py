"""Whatever is thrown at the readers, a capture, a log or BadInput comes out, and soon."""

from __future__ import annotations

import time
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_captures import session, vcd_text, zip_bytes

from kilter.importers import vcd
from kilter.importers.logic_capture import read_logic_capture
from kilter.importers.meter_log import read_meter_logs
from kilter.measure.errors import BadInput
from kilter.services.read_logic_capture import look_at
from kilter.signals.meter_log import steadiness

SECONDS = 60.0
"""No file of these sizes may take longer, on a slow and shared machine."""

VCD = vcd_text(
    "$dumpvars\n0!\nb0 $\nr0 %\n$end\n#10\n1!\nb1xz0 $\n#20\n$dumpoff\nx!\n$end\n#30\n$dumpon\n0!\n$end\nr1.5 %\n#40\n",
    "$var wire 1 ! clk $end $var wire 4 $ bus [3:0] $end $var real 64 % volts $end",
).encode()
TABLE = "Time[s],D0,Bus\n" + "".join(f"{n * 1e-6:.6f},{n % 2},0{n % 2}1\n" for n in range(40))
LOG = "Date,Time,Value,Unit\n" + "".join(f"01.03.2024,12:00:{n:02},{n * 0.1:.2f},V DC\n" for n in range(40))


def in_four_parts(error: BadInput) -> None:
    assert all((error.doing, error.found, error.allowed, error.do_next))
    assert "\n" not in error.found


def tried(path: Path) -> None:
    """Reads a file as both kinds; anything but an answer or BadInput is an error."""
    began = time.monotonic()
    try:
        look_at(read_logic_capture(path))
    except BadInput as error:
        in_four_parts(error)
    try:
        for log in read_meter_logs(path):
            steadiness(log)
    except BadInput as error:
        in_four_parts(error)
    assert time.monotonic() - began < SECONDS


@pytest.fixture(scope="module")
def zipped(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    words = np.random.default_rng(1).integers(0, 4, 500).astype("u1")
    return session(tmp_path_factory.mktemp("s") / "a.sr", words, ["D0", "D1"], pieces=3).read_bytes()


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(which=st.integers(0, 3), cuts=st.lists(st.tuples(st.integers(0, 4000), st.binary(max_size=4)), max_size=4),
       end=st.integers(0, 4000))  # fmt: skip
def test_damaged_files(which: int, cuts: list[tuple[int, bytes]], end: int, zipped: bytes, tmp_path: Path) -> None:
    raw = bytearray([VCD, TABLE.encode(), LOG.encode(), zipped][which])
    for place, new in cuts:
        at = place % len(raw)
        raw[at : at + len(new)] = new
    path = tmp_path / "damaged"
    path.write_bytes(raw[: end % len(raw)] if end % 2 else raw)
    tried(path)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=st.binary(max_size=300))
def test_bytes(raw: bytes, tmp_path: Path) -> None:
    path = tmp_path / "bytes"
    path.write_bytes(raw)
    tried(path)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(body=st.text('#$!"01xzbr \n%.', max_size=80))
def test_any_body(body: str, tmp_path: Path) -> None:
    path = tmp_path / "any.vcd"
    variables = "$var wire 1 ! clk $end $var wire 4 # bus [3:0] $end $var real 64 % volts $end"
    path.write_text(vcd_text(body, variables))
    tried(path)


@pytest.mark.parametrize(
    "content",
    [
        vcd_text("#0\n0!\n#999999999999999999\n1!\n").encode(),
        vcd_text("#0\n0!\n#999999999999999999\n1!\n", scale="100 s").encode(),
        vcd_text("#0\n" + "0!1!" * 100_000).encode(),
        vcd_text("#0\nb" + "1" * 3_000_000 + " !\n").encode(),
        b"$timescale " + b"1" * 3_000_000 + b" ns $end $enddefinitions $end",
        b"$var " * 200_000,
        b"PK\x03\x04" + bytes(100_000),
        b"\xff" * 2_000_000,
        b"1,2\n" * 200_000,
        b"," * 2_000_000,
        b'"' * 500_000,
        b"Time,V\n" + b"12:00:00," + b"9" * 500_000 + b"\n",
        b"99/99/9999 99:99:99,1\n" * 1000,
    ],
    ids=range(13),
)
def test_absurd_files(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "absurd"
    path.write_bytes(content)
    tried(path)


def test_no_file(tmp_path: Path) -> None:
    for path in (tmp_path / "none", tmp_path, Path("nul\0byte")):
        with pytest.raises(BadInput):
            read_logic_capture(path)
        with pytest.raises(BadInput):
            read_meter_logs(path)


def test_a_bomb_takes_no_memory(tmp_path: Path) -> None:
    """Two gigabytes and more of zeros in two megabytes of zip: refused by the zip's own table, nothing is unpacked."""
    path = tmp_path / "bomb.sr"
    settings_text = b"[device 1]\ncapturefile=logic-1\nsamplerate=1 MHz\nprobe1=D0\nunitsize=1\n"
    piece = bytes(64 << 20)
    path.write_bytes(zip_bytes(metadata=settings_text, **{f"logic-1-{n}": piece for n in range(1, 35)}))
    tracemalloc.start()
    with pytest.raises(BadInput, match="unpacked"):
        read_logic_capture(path)
    assert tracemalloc.get_traced_memory()[1] < 5_000_000
    tracemalloc.stop()


def test_a_stretch_without_stamps_is_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(vcd, "PIECE", 1000)
    monkeypatch.setattr(vcd, "LARGEST_PIECE", 5000)
    path = tmp_path / "no_stamps.vcd"
    path.write_text(vcd_text("#0\n" + "0!\n1!\n" * 5000))
    with pytest.raises(BadInput, match="without a time stamp"):
        vcd.read_vcd(path)
