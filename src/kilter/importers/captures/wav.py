"""Captures as WAV, as a sound card makes them: whole numbers of 8 to 32 bits, or floating point."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kilter.importers.captures.open_file import refused, sha256_of
from kilter.signals.settings import setting
from kilter.signals.waveform import Capture, Floats, Waveform

PCM, FLOAT, EXTENDED = 1, 3, 0xFFFE
FORMS = "PCM with 8, 16, 24 or 32 bits, or 32 or 64 bit floating point"


@dataclass(frozen=True, slots=True)
class _Form:
    code: int
    channels: int
    rate: int
    bits: int


def read_wav(path: Path, full_scale: float | None = None) -> Capture:
    """
    The channels of a WAV file.

    Args:
        path: The file.
        full_scale: Voltage of the largest code; None leaves shares of full scale. [V]

    Raises:
        BadInput: The file is cut before its samples, or holds a form that is not read.
    """
    doubts: list[str] = []
    form, data = _chunks(path, doubts)
    samples = _samples(path, form, data)
    if len(samples) < 2:
        raise refused(path, f"{len(samples)} samples", "two samples or more")
    if full_scale is None:
        doubts.append("A WAV file tells no voltage: values are shares of full scale (1.0), levels are not in volts.")
    scale, unit = (1.0, "") if full_scale is None else (full_scale, "V")
    waves = tuple(
        Waveform(f"channel {one + 1}", np.ascontiguousarray(samples[:, one]) * scale, 1.0 / form.rate, unit=unit)
        for one in range(form.channels)
    )
    remarks = {"sample rate": f"{form.rate} Hz", "bits": str(form.bits)}
    return Capture(path.name, sha256_of(path), waves, remarks, tuple(doubts))


def _chunks(path: Path, doubts: list[str]) -> tuple[_Form, bytes]:
    form: _Form | None = None
    size = path.stat().st_size
    with path.open("rb") as file:
        file.seek(12)
        while len(head := file.read(8)) == 8:
            name, length = head[:4], struct.unpack("<I", head[4:])[0]
            left = size - file.tell()
            if name == b"fmt ":
                form = _form(path, file.read(min(length, 64)))
                file.seek(max(0, length - 64) + length % 2, 1)
            elif name == b"data":
                if form is None:
                    raise refused(path, "samples before their format", "a 'fmt ' chunk first")
                if length > left:
                    doubts.append(f"The file is cut: {left} of {length} bytes of samples are there.")
                return form, file.read(min(length, left))
            else:
                file.seek(length + length % 2, 1)
    raise refused(path, "no samples: the file is cut or has no 'data' chunk", "a complete WAV file", "Copy it again.")


def _form(path: Path, words: bytes) -> _Form:
    if len(words) < 16:
        raise refused(path, f"a format of {len(words)} bytes", "16 bytes or more")
    code, channels, rate, _, _, bits = struct.unpack("<HHIIHH", words[:16])
    if code == EXTENDED and len(words) >= 26:
        code = struct.unpack("<H", words[24:26])[0]
    known = (code == PCM and bits in (8, 16, 24, 32)) or (code == FLOAT and bits in (32, 64))
    if not known or not 1 <= channels <= 64 or rate < 1:
        raise refused(path, f"form {code}, {bits} bits, {channels} channels, {rate} Hz", FORMS,
                      "Save it as 16 or 24 bit PCM.")  # fmt: skip
    return _Form(code, channels, rate, bits)


def _samples(path: Path, form: _Form, data: bytes) -> Floats:
    """All samples as shares of full scale, shape (n_samples, n_channels)."""
    wide = form.bits // 8 * form.channels
    count = len(data) // wide
    if count * form.channels > setting("largest_samples"):
        allowed = f"up to {setting('largest_samples'):.0e}"
        raise refused(path, f"{count * form.channels} samples", allowed, "Cut the record.")
    raw = data[: count * wide]
    return _decoded(form, raw).reshape(count, form.channels)


def _decoded(form: _Form, raw: bytes) -> Floats:
    if form.code == FLOAT:
        found: NDArray[np.float64] = np.frombuffer(raw, f"<f{form.bits // 8}").astype(np.float64)
        return np.where(np.isfinite(found), found, np.nan)
    if form.bits == 8:
        return (np.frombuffer(raw, np.uint8).astype(np.float64) - 128) / 128
    if form.bits == 24:
        three = np.frombuffer(raw, np.uint8).reshape(-1, 3)
        four = np.zeros((len(three), 4), np.uint8)
        four[:, 1:] = three
        return four.view("<i4")[:, 0].astype(np.float64) / 2.0**31
    return np.frombuffer(raw, f"<i{form.bits // 8}").astype(np.float64) / 2.0 ** (form.bits - 1)
