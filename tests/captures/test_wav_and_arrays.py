"""WAV files as the standard library and scipy write them, and NumPy files as NumPy writes them."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest

from kilter.importers.captures.read_capture import read_capture
from kilter.measure.errors import BadInput

RATE = 48_000
SAMPLES = np.round(0.7 * np.sin(2 * np.pi * 440 / RATE * np.arange(2000)), 6)


@pytest.mark.parametrize(("wide", "tolerance"), [(1, 1 / 100), (2, 1 / 30_000), (3, 1 / 8e6), (4, 1 / 2e9)])
def test_whole_numbers_against_the_standard_library(tmp_path: Path, wide: int, tolerance: float) -> None:
    full = 2 ** (8 * wide - 1)
    codes = np.round(SAMPLES * (full - 1)).astype(np.int64) + (128 if wide == 1 else 0)
    raw = b"".join(int(code).to_bytes(wide, "little", signed=wide > 1) for code in np.repeat(codes, 2))
    with wave.open(str(tmp_path / "a.wav"), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(wide)
        file.setframerate(RATE)
        file.writeframes(raw)
    capture = read_capture(tmp_path / "a.wav")
    assert len(capture.waveforms) == 2
    assert capture.waveforms[1].interval == pytest.approx(1 / RATE)
    np.testing.assert_allclose(capture.waveforms[1].values, SAMPLES, atol=2 * tolerance)
    assert capture.waveforms[0].unit == ""


@pytest.mark.parametrize("kind", [np.float32, np.float64, np.int16, np.int32, np.uint8])
def test_forms_against_scipy(tmp_path: Path, kind: type[np.generic]) -> None:
    wavfile = pytest.importorskip("scipy.io.wavfile")
    if np.dtype(kind).kind == "f":
        data = SAMPLES.astype(kind)
    elif kind is np.uint8:
        data = (128 + 128 * SAMPLES).astype(kind)
    else:
        data = (SAMPLES * np.iinfo(kind).max).astype(kind)
    wavfile.write(tmp_path / "a.wav", RATE, data)
    only = read_capture(tmp_path / "a.wav", full_scale=2.0).waveforms[0]
    assert only.unit == "V"
    np.testing.assert_allclose(only.values, 2 * SAMPLES, atol=0.06 if kind is np.uint8 else 2e-4)


def test_cut_wav_is_read_as_far_as_it_goes(tmp_path: Path) -> None:
    wavfile = pytest.importorskip("scipy.io.wavfile")
    wavfile.write(tmp_path / "a.wav", RATE, (SAMPLES * 32767).astype(np.int16))
    whole = (tmp_path / "a.wav").read_bytes()
    (tmp_path / "b.wav").write_bytes(whole[:2044])
    capture = read_capture(tmp_path / "b.wav")
    assert len(capture.waveforms[0].values) == 1000
    assert any("cut" in words for words in capture.warnings)


def test_arrays(tmp_path: Path) -> None:
    times = np.arange(500) * 1e-6
    np.save(tmp_path / "one.npy", SAMPLES[:500])
    np.save(tmp_path / "table.npy", np.stack([times, SAMPLES[:500], SAMPLES[500:1000]]))
    np.savez_compressed(tmp_path / "named.npz", t=times, ch1=SAMPLES[:500], ch2=SAMPLES[500:1000])
    np.savez(tmp_path / "rate.npz", clk=SAMPLES[:500], fs=2e6)
    assert read_capture(tmp_path / "one.npy").waveforms[0].interval is None
    assert read_capture(tmp_path / "one.npy", interval=1e-3).waveforms[0].interval == 1e-3
    table = read_capture(tmp_path / "table.npy").waveforms
    assert [one.name for one in table] == ["channel 1", "channel 2"]
    assert table[1].interval == pytest.approx(1e-6)
    np.testing.assert_array_equal(table[1].values, SAMPLES[500:1000])
    named = read_capture(tmp_path / "named.npz").waveforms
    assert [one.name for one in named] == ["ch1", "ch2"]
    assert named[0].interval == pytest.approx(1e-6)
    assert read_capture(tmp_path / "rate.npz").waveforms[0].interval == pytest.approx(5e-7)


def test_objects_and_huge_arrays_are_refused(tmp_path: Path) -> None:
    np.save(tmp_path / "object.npy", np.array([{"a": 1}], dtype=object), allow_pickle=True)
    with pytest.raises(BadInput, match="object"):
        read_capture(tmp_path / "object.npy")
    head = b"\x93NUMPY\x01\x00v\x00{'descr': '<f8', 'fortran_order': False, 'shape': (1000000000000,), }"
    (tmp_path / "huge.npy").write_bytes(head.ljust(127) + b"\n" + b"0" * 64)
    with pytest.raises(BadInput):
        read_capture(tmp_path / "huge.npy")


def test_zip_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    import zipfile

    with zipfile.ZipFile(tmp_path / "bomb.npz", "w", zipfile.ZIP_DEFLATED) as bundle, bundle.open("a.npy", "w") as one:
        for _ in range(900):
            one.write(bytes(1 << 20))
    assert (tmp_path / "bomb.npz").stat().st_size < 2_000_000
    with pytest.raises(BadInput, match="unpacked"):
        read_capture(tmp_path / "bomb.npz")
