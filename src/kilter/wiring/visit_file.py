"""
The visit file: a TOML text to which every entry of a visit is appended the moment it is made.

Nothing in it is ever changed. An undo is an entry that names the one it takes back.
"""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from kilter.circuit.board import Board
from kilter.importers.reading_lines import COLUMNS, reading_of
from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.visit_log import KINDS, READ, UNDONE, Entry, VisitLog

EDITION = 1
HEAD = "visit"
STAMP = ("number", "time", "who", "kind")
OPENING = "# A visit at the bench. Entries are only ever added; an undo is an entry of its own.\n"


def is_visit_file(path: Path) -> bool:
    """Whether a file says that it is one; a file that cannot be read is not for this to refuse."""
    if path.suffix.lower() != ".toml" or not path.is_file():
        return False
    with path.open("rb") as file:
        return file.read(len(OPENING) + 40).decode("utf-8", "replace").startswith(OPENING + HEAD)


class VisitFile:
    """
    One visit on disk.

    Args:
        path: Made by the first entry where it is not there.
        board: Whose points, parts and states the entries name.
    """

    def __init__(self, path: Path, board: Board) -> None:
        self.path, self.board = path, board
        self.doing = f"Cannot read the visit file {path.name}"
        self._size = 0

    def entries(self) -> VisitLog:
        """
        The log so far; empty where there is no file yet.

        Raises:
            BadInput: The file is no visit file, is damaged, or belongs to another board.
        """
        if not self.path.exists():
            return VisitLog()
        self._size = self.path.stat().st_size
        table = self._table(read_text(self.path, "the visit file"))
        rows = table.get("entry", [])
        log = VisitLog(tuple(self._entry(number, row) for number, row in enumerate(rows, 1)))
        self._check_undone(log)
        return log

    def understand(self, words: Mapping[str, str]) -> Reading:
        """
        The reading that a line of words means.

        Raises:
            BadInput: It cannot be understood.
        """
        return reading_of(words, "this line", self.board, "Cannot take this reading")

    def keep(self, entry: Entry) -> None:
        """Appends one entry; see `keep_all`."""
        self.keep_all([entry])

    def keep_all(self, entries: Sequence[Entry]) -> None:
        """
        Appends entries in one piece and waits until they are on the disk.

        Raises:
            BadInput: Another program has written to the file, or it cannot be written.
        """
        doing = f"Cannot write to the visit file {self.path.name}"
        text = "".join(_as_text(entry) for entry in entries)
        try:
            size = self.path.stat().st_size if self.path.exists() else 0
            if size != self._size:
                raise BadInput(doing, f"{size} bytes where {self._size} were left", "one session at a time",
                               "Leave this session and start it again on the file as it is now.")  # fmt: skip
            if not size:
                text = f"{OPENING}{HEAD} = {EDITION}\nboard = {_quoted(self.board.name)}\n{text}"
            self._append(text.encode("utf-8"))
        except OSError as error:
            raise BadInput(doing, error.strerror or "an error of the disk", "a file that can be written",
                           "Choose another place with --visit.") from None  # fmt: skip

    def _append(self, text: bytes) -> None:
        with self.path.open("ab") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
            self._size = file.tell()

    def _table(self, text: str) -> dict[str, Any]:
        try:
            table = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise self._bad(f"a text that is no TOML: {error}", "entries as the bench session writes them",
                            "Look at the place named; the last entry may be cut short.") from None  # fmt: skip
        if table.get(HEAD) != EDITION:
            raise self._bad(f"{HEAD} = {table.get(HEAD)!r}", f"{HEAD} = {EDITION}", "Name a visit file, or a new one.")
        if table.get("board") != self.board.name:
            raise self._bad(f"a visit to the board '{table.get('board')}'", f"a visit to '{self.board.name}'",
                            "Name the board file of that visit, or another visit file.")  # fmt: skip
        rows = table.get("entry", [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise self._bad("'entry' that is no list of tables", "[[entry]] tables", "Correct the file.")
        return table

    def _entry(self, number: int, row: Mapping[str, Any]) -> Entry:
        place = f"entry {number}"
        kind = row.get("kind")
        if row.get("number") != number or kind not in KINDS:
            found = f"number {row.get('number')!r} and kind {kind!r} at {place}"
            allowed = f"number {number} and one of {', '.join(KINDS)}"
            raise self._bad(found, allowed, "Put the file back as it was.")
        words = {key: value for key, value in row.items() if key not in STAMP}
        wrong = next((k for k, v in words.items() if k not in (*COLUMNS, "entry") or not isinstance(v, str)), None)
        if wrong is not None:
            raise self._bad(f"'{wrong} = {words[wrong]!r}' at {place}", f"texts under {', '.join(COLUMNS)}",
                            "Put the file back as it was.")  # fmt: skip
        time, who = str(row.get("time", "")), str(row.get("who", ""))
        reading = None
        if kind == READ:
            reading = reading_of(
                {**words, "time": time, "who": who}, f"{self.path.name} {place}", self.board, self.doing
            )
        return Entry(number, time, who, str(kind), words, reading)

    def _check_undone(self, log: VisitLog) -> None:
        for one in log.entries:
            earlier = {str(number) for number in range(1, one.number)}
            if one.kind == UNDONE and one.words.get("entry") not in earlier:
                raise self._bad(f"an undo of entry {one.words.get('entry')!r} at entry {one.number}",
                                "the number of an earlier entry", "Put the file back as it was.")  # fmt: skip
            if one.kind == "skipped" and not {"point", "quantity", "state"} <= set(one.words):
                raise self._bad(f"a skipped test without place at entry {one.number}", "point, quantity and state",
                                "Put the file back as it was.")  # fmt: skip

    def _bad(self, found: str, allowed: str, do_next: str) -> BadInput:
        return BadInput(self.doing, f"{found} in {self.path.name}", allowed, do_next)


def _as_text(entry: Entry) -> str:
    lines = ["", "[[entry]]", f"number = {entry.number}"]
    stamp = {"time": entry.time, "who": entry.who, "kind": entry.kind, **entry.words}
    return "\n".join([*lines, *(f"{key} = {_quoted(word)}" for key, word in stamp.items() if word), ""])


def _quoted(word: str) -> str:
    """A TOML basic string; JSON's escapes are a part of TOML's but for the delete character."""
    return json.dumps(word, ensure_ascii=False).replace("\x7f", "\\u007F")
