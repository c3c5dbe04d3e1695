"""
The experience file: JSON lines to which every entry is appended, each with the digest of the line before it.

Nothing in it is ever changed; a line that was changed, or taken out, is found by the digests after it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from kilter.measure.errors import BadInput
from kilter.services.experience import KINDS, Entry, Experience
from kilter.services.experience_chain import HEAD, HEAD_LINE, digest_of, line_of, refuse_twice


class ExperienceFile:
    """
    A collection's experience on disk.

    Args:
        path: Made by the first entry where it is not there.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.doing = f"Cannot read the experience file {path.name}"
        self._last, self._size = "", 0

    def read(self) -> Experience:
        """
        All entries; none where there is no file yet.

        Raises:
            BadInput: It is no such file, or was changed by something else.
        """
        if not self.path.exists():
            return Experience()
        try:
            raw = self.path.read_bytes()
            lines = raw.decode("utf-8").splitlines()
        except (OSError, UnicodeDecodeError) as error:
            raise self._bad(str(error), "a text that can be read") from None
        self._size, self._last = len(raw), ""
        entries = []
        for number, line in enumerate(lines):
            row = self._row(line, number)
            if number == 0 and row != HEAD:
                raise self._bad("another first line", json.dumps(HEAD))
            if number:
                entries.append(self._entry(row, number))
            self._last = digest_of(line)
        return Experience(tuple(entries))

    def add(self, experience: Experience, kind: str, body: Mapping[str, Any], *, who: str, now: str = "") -> Entry:
        """
        Appends one entry and waits until it is on the disk.

        Args:
            experience: As it was read.
            kind: One of the kinds of entries.
            body: Plain data.
            who: Who adds it.
            now: ISO 8601 in UTC; the present unless given.

        Raises:
            BadInput: Another program has written to the file, the visit is there already, or it cannot be written.
        """
        refuse_twice(experience, kind, body)
        time = now or datetime.now(UTC).isoformat(timespec="seconds")
        entry = Entry(len(experience.entries) + 1, time, who, kind, body)
        doing = f"Cannot write to the experience file {self.path.name}"
        try:
            size = self.path.stat().st_size if self.path.exists() else 0
            if size != self._size:
                raise BadInput(
                    doing, f"{size} bytes where {self._size} were read", "one program at a time", "Try again."
                )
            text = ""
            if not size:
                text, self._last = f"{HEAD_LINE}\n", digest_of(HEAD_LINE)
            line = line_of(entry, self._last)
            with self.path.open("ab") as file:
                file.write((text + line + "\n").encode())
                file.flush()
                os.fsync(file.fileno())
                self._size = file.tell()
        except OSError as error:
            raise BadInput(doing, error.strerror or "an error of the disk", "a file that can be written",
                           "Choose another place with --experience.") from None  # fmt: skip
        self._last = digest_of(line)
        return entry

    def _row(self, line: str, number: int) -> dict[str, Any]:
        try:
            row = json.loads(line)
        except ValueError:
            row = None
        if not isinstance(row, dict):
            raise self._bad(f"line {number + 1} that is no JSON object", "the lines as they were written")
        return row

    def _entry(self, row: Mapping[str, Any], number: int) -> Entry:
        body = row.get("body")
        if row.get("before") != self._last or row.get("number") != number:
            raise self._bad(f"a changed or missing line before line {number + 1}", "lines that only were added to")
        if row.get("kind") not in KINDS or not isinstance(body, dict):
            raise self._bad(f"the kind {row.get('kind')!r} at line {number + 1}", ", ".join(KINDS))
        return Entry(number, str(row.get("time", "")), str(row.get("who", "")), str(row["kind"]), body)

    def _bad(self, found: str, allowed: str) -> BadInput:
        return BadInput(self.doing, f"{found} in {self.path.name}", allowed, "Put the file back from a copy.")
