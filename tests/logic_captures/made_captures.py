"""Captures made by the tests, with their truth."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from kilter.signals.logic_lines import LogicCapture, LogicLine, where_it_changes


def sampled(levels: Mapping[str, Sequence[int]], *, step: float = 1e-6, source: str = "made") -> LogicCapture:
    """A capture from samples of each line."""
    lines, count = {}, 0
    for name, one in levels.items():
        values = np.asarray(one, np.uint8)
        kept = where_it_changes(values)
        lines[name] = LogicLine(name, kept.astype(np.int64), values[kept])
        count = len(values)
    return LogicCapture(source, step, 0, count, lines=lines, stepped=True)


def square(hertz: float, rate: float, seconds: float, *, duty: float = 0.5, phase: float = 0.0) -> np.ndarray:
    """Samples of a square wave as an ideal analyser takes them."""
    cycles = np.arange(round(rate * seconds)) / rate * hertz + phase
    return (cycles % 1.0 < duty).astype(np.uint8)


def vcd_text(body: str, variables: str = "$var wire 1 ! clk $end", scale: str = "1 ns") -> str:
    """A VCD file with this body."""
    head = f"$date today $end $timescale {scale} $end $scope module top $end {variables} $upscope $end"
    return f"{head}\n$enddefinitions $end\n{body}"


def session(
    path: Path, words: np.ndarray, names: Sequence[str], *, rate: str = "1 MHz", pieces: int = 1, more: str = ""
) -> Path:
    """A zipped logic session of these sample words."""
    unit = words.dtype.itemsize
    probes = "".join(f"probe{i}={name}\n" for i, name in enumerate(names, 1))
    text = (
        "[global]\nversion=1\n\n[device 1]\ncapturefile=logic-1\n"
        f"total probes={len(names)}\nsamplerate={rate}\n{probes}unitsize={unit}\n{more}"
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("version", "2")
        archive.writestr("metadata", text)
        for number, piece in enumerate(np.array_split(words, pieces), 1):
            archive.writestr("logic-1" if pieces == 1 else f"logic-1-{number}", piece.tobytes())
    return path


def zip_bytes(**members: bytes) -> bytes:
    """A zip in memory."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return buffer.getvalue()
