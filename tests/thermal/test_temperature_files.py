"""Readers of temperature matrices: against files that other libraries wrote, and against hostile files."""

from __future__ import annotations

import contextlib
import hashlib
import struct
import time
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kilter.importers.temperature_matrix import read_temperature_matrix
from kilter.measure.errors import BadInput
from kilter.thermal.units import fitting_units

Image = pytest.importorskip("PIL.Image", reason="Pillow, extra 'vision', writes the files that are read here")

ROOM = 20 + np.linspace(0, 25, 60 * 80).reshape(60, 80).round(2)
"""A picture that no unit but one fits, once its numbers are written in it. [degC]"""


def written(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


def rows(values: np.ndarray, separator: str, *, comma: bool = False) -> str:
    text = "\n".join(separator.join(f"{v:.2f}" for v in row) for row in values)
    return text.replace(".", ",") if comma else text


@pytest.mark.parametrize(
    ("separator", "comma", "before", "after"),
    [
        (",", False, "", ""),
        (";", True, "", "\n"),
        ("\t", True, "File;x\nEmissivity;0,95\n", "\nend"),
        (" ", False, "# plain\n\n", ""),
        (";", False, "\ufeffModel;any\nUnit;°C\n\n", "\nMean;31.2\n"),
        (", ", False, "", ""),
    ],
)
def test_table_in_text(tmp_path: Path, separator: str, comma: bool, before: str, after: str) -> None:
    path = written(tmp_path / "a.csv", before + rows(ROOM, separator, comma=comma) + after)
    found = read_temperature_matrix(path)
    assert np.abs(found.celsius - ROOM).max() < 1e-9
    assert found.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_rows_and_columns_that_count(tmp_path: Path) -> None:
    head = "y\\x," + ",".join(map(str, range(1, 81)))
    body = "\n".join(f"{n}," + ",".join(f"{v:.2f}" for v in row) + "," for n, row in enumerate(ROOM, 1))
    found = read_temperature_matrix(written(tmp_path / "a.csv", f"{head}\n{body}\n"))
    assert found.celsius.shape == ROOM.shape
    assert np.abs(found.celsius - ROOM).max() < 1e-9


@pytest.mark.parametrize(
    ("unit", "numbers"),
    [
        ("degC", ROOM),
        ("K", ROOM + 273.15),
        ("centikelvin", 100 * (ROOM + 273.15)),
        ("decikelvin", 10 * (ROOM + 273.15)),
    ],
)  # kelvin: definition; hundredths and tenths: common practice, no source
def test_unit_that_alone_fits(tmp_path: Path, unit: str, numbers: np.ndarray) -> None:
    assert fitting_units(numbers) == (unit,)
    np.save(tmp_path / "a.npy", numbers)
    found = read_temperature_matrix(tmp_path / "a.npy")
    assert np.abs(found.celsius - ROOM).max() < 1e-6
    assert any("fit" in note for note in found.notes)


def test_unit_that_may_be_two_is_asked(tmp_path: Path) -> None:
    np.save(tmp_path / "warm.npy", ROOM + 18)  # about 50: a warm board in degC, a cool one in Fahrenheit
    with pytest.raises(BadInput, match="could be degrees Celsius or degrees Fahrenheit"):
        read_temperature_matrix(tmp_path / "warm.npy")
    assert read_temperature_matrix(tmp_path / "warm.npy", "degC").celsius.max() == pytest.approx(ROOM.max() + 18)
    # 212 degF = 100 degC: definition
    np.save(tmp_path / "f.npy", np.full((60, 80), 212.0))
    assert read_temperature_matrix(tmp_path / "f.npy", "degF").celsius == pytest.approx(100.0)


def test_fahrenheit_is_never_guessed(tmp_path: Path) -> None:
    np.save(tmp_path / "f.npy", 1.8 * ROOM + 32 + 40)
    with pytest.raises(BadInput, match="Fahrenheit"):
        read_temperature_matrix(tmp_path / "f.npy")


def test_words_beside_the_table_name_the_unit(tmp_path: Path) -> None:
    path = written(tmp_path / "a.csv", "Temperature [°F]\n" + rows(1.8 * ROOM + 32, ";"))
    assert np.abs(read_temperature_matrix(path).celsius - ROOM).max() < 0.01


def test_comma_between_and_within_numbers_is_refused(tmp_path: Path) -> None:
    noisy = ROOM + np.random.default_rng(3).normal(0, 0.4, ROOM.shape)
    path = written(tmp_path / "a.csv", rows(noisy, ",", comma=True))
    with pytest.raises(BadInput, match="commas both"):
        read_temperature_matrix(path)


@pytest.mark.parametrize("compression", [None, "tiff_adobe_deflate"])
def test_tiff_of_one_library(tmp_path: Path, compression: str | None) -> None:
    numbers = np.round(100 * (ROOM + 273.15)).astype(np.uint16)
    Image.fromarray(numbers).save(tmp_path / "a.tif", compression=compression)
    assert np.abs(read_temperature_matrix(tmp_path / "a.tif").celsius - ROOM).max() < 0.006


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(
    ("kind", "predictor", "packed"), [("u2", 1, None), ("u2", 2, "zlib"), ("f4", 1, None), ("i2", 1, "zlib")]
)
def test_tiff_of_another_library(tmp_path: Path, order: str, kind: str, predictor: int, packed: str | None) -> None:
    tifffile = pytest.importorskip("tifffile")
    numbers = ROOM.astype(kind) if kind != "u2" else np.round(100 * (ROOM + 273.15)).astype("u2")
    tifffile.imwrite(tmp_path / "a.tif", numbers, byteorder=order, compression=packed, rowsperstrip=7,
                     predictor=predictor == 2)  # fmt: skip
    want = numbers / 100 - 273.15 if kind == "u2" else numbers
    assert np.abs(read_temperature_matrix(tmp_path / "a.tif").celsius - want).max() < 1e-4


def test_pictures_in_colours_hold_no_temperatures(tmp_path: Path) -> None:
    for name in ("a.png", "a.jpg", "a.tif", "b.tif"):
        kind = "RGB" if name != "b.tif" else "L"
        Image.new(kind, (80, 60)).save(tmp_path / name)
        with pytest.raises(BadInput, match="colours"):
            read_temperature_matrix(tmp_path / name)


def test_bomb_is_not_inflated(tmp_path: Path) -> None:
    """A strip that would inflate to a gigabyte; no more is taken than the pixels need."""
    bomb = zlib.compressobj(9)
    data = b"".join(bomb.compress(b"\0" * 1_000_000) for _ in range(300)) + bomb.flush()
    tags = [(256, 4, 80), (257, 4, 60), (258, 3, 16), (259, 3, 8), (273, 4, 8), (277, 3, 1), (279, 4, len(data))]
    at = 8 + len(data)
    ifd = struct.pack("<H", len(tags)) + b"".join(struct.pack("<HHII", t, k, 1, v) for t, k, v in tags) + b"\0" * 4
    (tmp_path / "a.tif").write_bytes(b"II*\0" + struct.pack("<I", at) + data + ifd)
    began = time.perf_counter()
    with pytest.raises(BadInput):
        read_temperature_matrix(tmp_path / "a.tif")
    assert time.perf_counter() - began < 30.0


def test_array_that_promises_more_than_it_holds(tmp_path: Path) -> None:
    np.save(tmp_path / "a.npy", ROOM)
    raw = (tmp_path / "a.npy").read_bytes()
    (tmp_path / "b.npy").write_bytes(raw[:-100])
    (tmp_path / "c.npy").write_bytes(raw.replace(b"(60, 80), }        ", b"(600000, 800000), }"))
    np.save(tmp_path / "o.npy", np.array([[{}] * 60] * 60), allow_pickle=True)
    for name in ("b.npy", "c.npy", "o.npy"):
        with pytest.raises(BadInput):
            read_temperature_matrix(tmp_path / name)


@pytest.mark.parametrize("text", ["", "a,b\n1,2\n", "\n" * 5000, "1;" * 100_000, "°C\n" + "x" * 100_000])
def test_text_without_a_picture(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadInput) as told:
        read_temperature_matrix(written(tmp_path / "a.csv", text))
    assert told.value.allowed
    assert told.value.do_next


def samples() -> list[bytes]:
    """Good files whose bytes are spoilt below."""
    import io

    numbers = np.round(100 * (ROOM + 273.15)).astype(np.uint16)
    array, tiff, packed = io.BytesIO(), io.BytesIO(), io.BytesIO()
    np.save(array, ROOM)
    Image.fromarray(numbers).save(tiff, format="TIFF")
    Image.fromarray(numbers).save(packed, format="TIFF", compression="tiff_adobe_deflate")
    return [array.getvalue(), tiff.getvalue(), packed.getvalue(), rows(ROOM, ";").encode()]


SAMPLES = samples()


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.sampled_from(range(4)), st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), max_size=12), st.floats(0, 1)
)
def test_spoilt_files(tmp_path: Path, which: int, changes: list[tuple[float, int]], kept: float) -> None:
    """Spoilt bytes give a picture or an error in four parts, and nothing else."""
    raw = bytearray(SAMPLES[which])
    for place, byte in changes:
        raw[int(place * (len(raw) - 1))] = byte
    for place, byte in changes[:3]:
        raw[int(place * 200)] = byte
    (tmp_path / "a.bin").write_bytes(bytes(raw[: max(1, int((1 - kept**6) * len(raw)))]))
    with contextlib.suppress(BadInput):
        assert np.isfinite(read_temperature_matrix(tmp_path / "a.bin").celsius).all()
