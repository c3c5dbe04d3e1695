"""Damaged, cut, empty and hostile files: a message in four parts or a reading, never anything else, and soon."""

from __future__ import annotations

import contextlib
import io
import struct
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapes import shapes

from kilter.importers.captures.read_capture import read_capture
from kilter.measure.errors import BadInput

EXAMPLES: list[bytes] = [shape.content for shape in shapes()]
with io.BytesIO() as held:
    np.save(held, np.arange(50.0))
    EXAMPLES.append(held.getvalue())
with io.BytesIO() as held:
    np.savez_compressed(held, t=np.arange(50) * 1e-6, a=np.arange(50.0))
    EXAMPLES.append(held.getvalue())
FORMAT = (1, 1, 48_000, 96_000, 2, 16)
EXAMPLES.append(b"RIFF\0\1\0\0WAVEfmt \x10\0\0\0" + struct.pack("<HHIIHH", *FORMAT) + b"data@\0\0\0" + bytes(range(64)))


def attempt(path: Path) -> None:
    with contextlib.suppress(BadInput):
        for one in read_capture(path).waveforms:
            assert one.values.dtype == np.float64
            assert one.interval is None or one.interval > 0


@settings(max_examples=150, deadline=5000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, len(EXAMPLES) - 1), st.data())
def test_damaged_files(tmp_path: Path, which: int, data: st.DataObject) -> None:
    damaged = bytearray(EXAMPLES[which])
    for _ in range(data.draw(st.integers(1, 8))):
        place = data.draw(st.integers(0, len(damaged) - 1))
        damaged[place] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(damaged)))
    path = tmp_path / "damaged"
    path.write_bytes(bytes(damaged[:cut] if data.draw(st.booleans()) else damaged))
    attempt(path)


@settings(max_examples=100, deadline=5000, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.one_of(st.binary(max_size=400), st.text(alphabet='0123456789,;.\t\n -eEV"#:ms', max_size=400).map(str.encode))
)
def test_any_bytes(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "any"
    path.write_bytes(content)
    attempt(path)


@pytest.mark.parametrize("content", [
    b"", b"\n" * 1000, b"no numbers here\n" * 500, b"\x00" * 100_000, b"1" * 3_000_000, b"1,2\n",
    b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40, b"<xml>&a;</xml>", b"RIFF\x00\x00\x00\x00WAVE",
    b"PK\x03\x04" + b"\x00" * 60, b"\x93NUMPY\x01\x00",
    b'"' * 100_000, b"1,2\n3,4\n" + b"9" * 5_000_000,
], ids=range(13))  # fmt: skip
def test_hopeless_files_are_refused_in_four_parts(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "hopeless.csv"
    path.write_bytes(content)
    start = time.process_time()
    with pytest.raises(BadInput) as caught:
        read_capture(path)
    assert time.process_time() - start < 60
    assert all((caught.value.doing, caught.value.found, caught.value.allowed, caught.value.do_next))


@pytest.mark.parametrize("name", ["absent.csv", "."])
def test_no_file(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadInput):
        read_capture(tmp_path / name)
