"""
Zipped logic sessions: a zip with a text of settings and the samples of all lines as binary words.

The text ('metadata') has sections as in .ini files: a device with its sample rate, the names of its lines (probe1,
probe2 ...), the bytes of one sample (unitsize) and the name of its sample files; those are one file, or pieces numbered
-1, -2 and on. Analogue channels are left out with a warning.
"""

from __future__ import annotations

import configparser
import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from kilter.importers.sampled_lines import SampledLines
from kilter.measure.errors import BadInput
from kilter.signals.logic_lines import LogicCapture

SETTINGS = "metadata"
LARGEST_SETTINGS = 1 << 20
LARGEST_SAMPLES = 2 << 30
"""Unpacked bytes that are read; a zip can hold a thousand times its own size."""

MOST_LINES = 512
MOST_MEMBERS = 100_000
PIECE = 4 << 20
HERTZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9, "": 1.0}


@dataclass(frozen=True)
class Settings:
    """Sample rate [Hz], bytes of a sample, names of the lines by bit, and the start of the sample files' names."""

    rate: float
    bytes_each: int
    names: dict[int, str]
    file: str


def read_logic_session(path: Path) -> LogicCapture:
    """
    The capture in a zipped logic session.

    Raises:
        BadInput: It is no such zip, is damaged, or unpacks to more than is read.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            return _read(archive, path)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise _bad(path, f"a damaged or unusual zip ({str(error)[:80]})", "a whole zip, packed by deflate or stored",
                   "Save or copy the session again.") from None  # fmt: skip
    except OSError as error:
        raise _bad(path, f"{error.strerror or 'an error of the disk'}: {path.name}", "a file that can be read",
                   "Check the name and the disk.") from None  # fmt: skip


def _read(archive: zipfile.ZipFile, path: Path) -> LogicCapture:
    if len(archive.infolist()) > MOST_MEMBERS:
        raise _bad(path, f"{len(archive.infolist())} files in the zip", f"up to {MOST_MEMBERS}", "Save it again.")
    settings, warnings = _settings(archive, path)
    members = _sample_files(archive, settings.file, path)
    total = sum(member.file_size for member in members)
    if total > LARGEST_SAMPLES:
        raise _bad(path, f"samples of {total} bytes unpacked", f"up to {LARGEST_SAMPLES} bytes",
                   "Save a shorter stretch, or export it as VCD.")  # fmt: skip
    lines = SampledLines(settings.names, settings.bytes_each, path.name)
    left = b""
    for raw in _unpacked(archive, members, path):
        left += raw
        whole = len(left) // settings.bytes_each * settings.bytes_each
        lines.add(left[:whole])
        left = left[whole:]
    if left:
        warnings.append(f"The samples end with {len(left)} byte(s) of an unfinished one; they are left out.")
    if any(re.match(r"analog-\d", name) for name in archive.namelist()):
        warnings.append("Analogue channels of the session are left out.")
    return lines.capture(tick=1.0 / settings.rate, warnings=tuple(warnings))


def _settings(archive: zipfile.ZipFile, path: Path) -> tuple[Settings, list[str]]:
    try:
        member = archive.getinfo(SETTINGS)
    except KeyError:
        listed = ", ".join(archive.namelist()[:6]) or "nothing"
        raise _bad(path, f"a zip that holds {listed[:100]}", f"a zip with a text named '{SETTINGS}'",
                   "Check that this is a logic session.") from None  # fmt: skip
    if member.file_size > LARGEST_SETTINGS:
        raise _bad(path, f"settings of {member.file_size} bytes", f"up to {LARGEST_SETTINGS}", "Save it again.")
    parser = configparser.ConfigParser(interpolation=None, strict=False)
    try:
        with archive.open(member) as file:
            parser.read_string(file.read(LARGEST_SETTINGS).decode("utf-8", "replace"))
    except configparser.Error as error:
        raise _bad(path, f"settings that cannot be read ({str(error).splitlines()[0][:80]})",
                   "sections with 'name = value'", "Save the session again.") from None  # fmt: skip
    devices = [name for name in parser.sections() if "capturefile" in parser[name]]
    if not devices:
        raise _bad(path, "no device with logic samples in the settings", "a section with capturefile and samplerate",
                   "Save a session that holds logic lines.")  # fmt: skip
    warnings = [f"Only the first of {len(devices)} devices is read."] if len(devices) > 1 else []
    return _device(dict(parser[devices[0]]), path, warnings), warnings


def _device(entry: dict[str, str], path: Path, warnings: list[str]) -> Settings:
    names = {int(key[5:]) - 1: value for key, value in entry.items() if re.fullmatch(r"probe[1-9]\d{0,3}", key)}
    count = max(names, default=-1) + 1
    try:
        bytes_each = int(entry.get("unitsize", (count + 7) // 8))
    except ValueError:
        bytes_each = 0
    if not names or not 1 <= bytes_each <= MOST_LINES // 8 or count > 8 * bytes_each:
        raise _bad(path, f"{count} lines in samples of {entry.get('unitsize', 'unstated')} bytes",
                   f"named lines (probe1 ...), up to {MOST_LINES}, and a unitsize that holds them", "Save it again.",
                   )  # fmt: skip
    return Settings(_rate(entry.get("samplerate", ""), path, warnings), bytes_each, names, entry["capturefile"])


def _rate(text: str, path: Path, warnings: list[str]) -> float:
    """The sample rate. [Hz]"""
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*([kmg]?hz|)", text.strip(), re.IGNORECASE)
    rate = float(match[1]) * HERTZ[match[2].lower()] if match else 0.0
    if not 1e-3 <= rate <= 1e12:
        raise _bad(path, f"the sample rate '{text[:40]}'", "a rate such as '24 MHz', from 1 mHz to 1 THz",
                   "Correct the settings or save the session again.")  # fmt: skip
    if match and match[2].startswith("m"):
        warnings.append(f"The sample rate '{text.strip()}' is taken as megahertz.")
    return rate


def _sample_files(archive: zipfile.ZipFile, start: str, path: Path) -> list[zipfile.ZipInfo]:
    """One file of that name, or numbered pieces in the order of their numbers."""
    pieces = {}
    for member in archive.infolist():
        if member.filename == start:
            pieces[0] = member
        elif match := re.fullmatch(re.escape(start) + r"-(\d{1,9})", member.filename):
            pieces[int(match[1])] = member
    numbers = sorted(pieces)
    if not numbers:
        raise _bad(path, f"no sample file '{start[:40]}'", "sample files as named by capturefile", "Save it again.")
    if numbers != list(range(numbers[0], numbers[0] + len(numbers))) or numbers[0] > 1:
        raise _bad(path, f"sample pieces {', '.join(map(str, numbers[:6]))}", "pieces numbered without a hole from 1",
                   "Save the session again; a piece is missing.")  # fmt: skip
    return [pieces[number] for number in numbers]


def _unpacked(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo], path: Path) -> Iterator[bytes]:
    """The samples, never more of them than the zip's own table says."""
    read = 0
    for member in members:
        with archive.open(member) as file:
            while raw := file.read(PIECE):
                read += len(raw)
                if read > LARGEST_SAMPLES:
                    raise _bad(path, f"more than {LARGEST_SAMPLES} bytes unpacked", "a shorter session", "Save less.")
                yield raw


def _bad(path: Path, found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput(f"Cannot read the logic capture {path.name}", f"{found} in {path.name}", allowed, do_next)
