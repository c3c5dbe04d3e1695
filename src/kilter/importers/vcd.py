"""
VCD files (value change dump, IEEE 1364-2005, clause 18): logic captures and the output of simulators.

Read are scalars, vectors up to 64 bits, reals, scopes, aliases, comments, $dumpoff and $dumpon. Strings and wider
vectors are left out with a warning. The extended form with port directions is refused.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import numpy as np

from kilter.importers.vcd_changes import MOST_CHANGES, Changes
from kilter.importers.vcd_header import END_OF_HEAD, read_header
from kilter.importers.vcd_scan import Piece, Unreadable, scan
from kilter.measure.errors import BadInput
from kilter.signals.logic_lines import LogicBus, LogicCapture, LogicLine, shared_step

FIRST_CHANGES = 20_000
"""Changes of each line by which the step of the capture is judged."""

PIECE = 2 << 20
"""Bytes taken at once: small enough to stay in the fast memory of a processor."""

LARGEST_PIECE = 64 << 20
LARGEST_HEAD = 64 << 20
LARGEST = 4 << 30
"""Bytes of a head, of a stretch without a time stamp and of a file that are read."""


def read_vcd(path: Path) -> LogicCapture:
    """
    The capture in a VCD file.

    Raises:
        BadInput: It cannot be read or understood; the message has the place.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST:
            raise _bad(path, f"a file of {size} bytes", f"up to {LARGEST} bytes", "Export a shorter stretch.")
        with path.open("rb") as file:
            return _read(file, path)
    except OSError as error:
        raise _bad(path, f"{error.strerror or 'an error of the disk'}: {path.name}", "a file that can be read",
                   "Check the name and the disk.") from None  # fmt: skip


def _read(file: BinaryIO, path: Path) -> LogicCapture:
    head, rest = _head(file, path)
    header = read_header(head, path.name)
    changes, warnings = Changes(header), list(header.warnings)
    start, end, off, gaps = -1, -1, -1, list[tuple[int, int]]()
    done = len(head)
    for raw in _pieces(file, rest, path, warnings):
        try:
            piece = scan(raw)
            changes.add(piece)
            start, end = _span(piece, start, end)
            off = _follow_dumping(piece, max(start, 0), off, gaps)
        except Unreadable as error:
            raise _bad(path, f"{error.found} at {path.name} line {_line(path, done + error.offset)}",
                       "value changes as in IEEE 1364, clause 18",
                       "Export the capture again; if only its end is damaged, cut the file before that line.",
                       ) from None  # fmt: skip
        if changes.count > MOST_CHANGES:
            raise _bad(path, f"more than {MOST_CHANGES} changes", f"up to {MOST_CHANGES}",
                       "Export a shorter stretch or fewer lines.")  # fmt: skip
        done += len(raw)
    if off >= 0:
        gaps.append((off, max(end, off)))
    return _capture(path, header.tick, changes, (max(start, 0), max(end, 0)), gaps, warnings)


def _capture(path: Path, tick: float, changes: Changes, span: tuple[int, int], gaps: list[tuple[int, int]],
             warnings: list[str]) -> LogicCapture:  # fmt: skip
    lines, buses, numbers = changes.lines(span[0])
    digital: list[LogicLine | LogicBus] = [*lines.values(), *buses.values()]
    silent = [one.name for one in [*digital, *numbers.values()] if not len(one.times)]
    if silent:
        warnings.append(f"No value is given for {', '.join(silent[:8])}{' and others' if len(silent) > 8 else ''}.")
    if span[1] <= span[0]:
        warnings.append("The capture has no length: nothing can be said about frequencies.")
    if gaps:
        warnings.append(f"The capture was switched off {len(gaps)} time(s); lines count as unknown meanwhile.")
    first_changes = [one.times[:FIRST_CHANGES] for one in digital]
    step = shared_step(np.unique(np.concatenate([*first_changes, np.zeros(0, np.int64)])))
    return LogicCapture(
        source=path.name, tick=tick, start=span[0], end=span[1], step=step, lines=lines, buses=buses,
        numbers=numbers, gaps=tuple(gaps), warnings=tuple(warnings),
    )  # fmt: skip


def _head(file: BinaryIO, path: Path) -> tuple[bytes, bytes]:
    """Everything up to the end of the declarations, and what was read beyond it."""
    head = b""
    while len(head) < LARGEST_HEAD:
        more = file.read(PIECE)
        if not head and (b"\0" in more[:4096] or b"$" not in more[:65536]):
            break
        head += more
        found = END_OF_HEAD.search(head, max(0, len(head) - len(more) - 40))
        if found:
            return head[: found.end()], head[found.end() :]
        if not more:
            break
    raise _bad(path, f"no '$enddefinitions $end' in {path.name}", "a VCD file with its declarations",
               "Check that this is a whole VCD file.")  # fmt: skip


def _pieces(file: BinaryIO, rest: bytes, path: Path, warnings: list[str]) -> Iterator[bytes]:
    """The body in pieces that begin with a time stamp at the start of a line."""
    while True:
        more = file.read(PIECE)
        if not more:
            break
        rest += more
        cut = rest.rfind(b"\n#", 1)
        if cut > 0 and len(rest) >= PIECE:
            yield rest[:cut]
            rest = rest[cut:]
        elif len(rest) > LARGEST_PIECE:
            raise _bad(path, f"{len(rest)} bytes without a time stamp at the start of a line",
                       f"time stamps at least every {LARGEST_PIECE} bytes",
                       "Export with one change a line.")  # fmt: skip
    if rest and not rest[-1:].isspace():
        cut = max(rest.rfind(b"\n"), 0)
        warnings.append("The file ends in the middle of a line; that line is left out, and the end may be missing.")
        rest = rest[:cut]
    yield rest


def _span(piece: Piece, start: int, end: int) -> tuple[int, int]:
    """First and last time stamp so far."""
    if not len(piece.stamps):
        return start, end
    back = (piece.stamps[1:] < piece.stamps[:-1]).nonzero()[0]
    if len(back) or piece.stamps[0] < end:
        at = int(back[0]) + 1 if len(back) else 0
        raise Unreadable(0, f"the time stamp #{piece.stamps[at]} after a later one")
    return (int(piece.stamps[0]) if start < 0 else start), int(piece.stamps[-1])


def _follow_dumping(piece: Piece, start: int, off: int, gaps: list[tuple[int, int]]) -> int:
    """Since when the dump is off, -1 where it is on; what is over goes to the gaps."""
    for when, word in piece.directives:
        if word == "$dumpports" or word.startswith("$vcdclose"):
            raise Unreadable(0, f"'{word}' of the extended form, which is not read,")
        if word == "$dumpoff" and off < 0:
            off = max(when, start)
        elif word == "$dumpon" and off >= 0:
            gaps.append((off, when))
            off = -1
    return off


def _line(path: Path, offset: int) -> int:
    """Number of the line at a place of the file."""
    with path.open("rb") as file:
        count = 1
        while offset > 0:
            raw = file.read(min(offset, PIECE))
            if not raw:
                break
            count += raw.count(b"\n")
            offset -= len(raw)
    return count


def _bad(path: Path, found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput(f"Cannot read the logic capture {path.name}", found, allowed, do_next)
