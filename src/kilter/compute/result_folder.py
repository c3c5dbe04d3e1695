"""The folder of a sweep's results: one file for each chunk, whole or not at all, so that a sweep can go on."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path
from typing import Any

from kilter.compute.sweep import Sweep, canonical
from kilter.measure.errors import BadInput

HEAD = "sweep.json"


class ResultFolder:
    """
    Results on disk.

    Args:
        path: Made where it is not there.
        sweep: Whose results they are.

    Raises:
        BadInput: The folder holds the results of another sweep, or cannot be written.
    """

    def __init__(self, path: Path, sweep: Sweep) -> None:
        self.path, self.sweep = path, sweep
        self.doing = f"Cannot go on with the sweep in {path}"
        identity = sweep.identity()
        try:
            path.mkdir(parents=True, exist_ok=True)
            head = path / HEAD
            if not head.exists():
                if any(path.iterdir()):
                    raise BadInput(self.doing, "other files and no sweep", "an empty folder or that of a sweep",
                                   "Name another folder.")  # fmt: skip
                _write(head, json.dumps(identity, indent=2) + "\n")
            else:
                self._same(json.loads(head.read_text("utf-8")), identity)
        except (OSError, ValueError) as error:
            raise BadInput(
                self.doing, str(error), "a folder that can be read and written", "Name another folder."
            ) from None

    def _same(self, found: dict[str, Any], wanted: dict[str, Any]) -> None:
        differs = [key for key in wanted if found.get(key) != wanted[key]]
        if differs == ["program"]:
            raise BadInput(self.doing, "results of another version of the program or its data", "one version",
                           "Start again in a new folder, or go on with the version that began it.")  # fmt: skip
        if differs:
            raise BadInput(self.doing, f"the results of another sweep (its {', '.join(differs)} differ)",
                           f"results of the same '{wanted['name']}' sweep with the same choices",
                           "Name another folder, or the choices of that sweep.")  # fmt: skip

    def done(self) -> dict[int, dict[str, Any]]:
        """Chunks that are there, by number; a file that was cut short or changed counts as not there."""
        found = {}
        for number in range(len(self.sweep.chunks)):
            path = self._of(number)
            if path.exists():
                try:
                    row = json.loads(path.read_text("utf-8"))
                    if row["sha256"] == digest(row["result"]):
                        found[number] = row
                except (ValueError, KeyError, TypeError):
                    continue
        return found

    def keep(self, number: int, row: dict[str, Any]) -> None:
        """Puts one chunk's result away; after this it survives whatever happens to the program."""
        _write(self._of(number), json.dumps({**row, "sha256": digest(row["result"])}, allow_nan=False))

    def _of(self, number: int) -> Path:
        return self.path / f"{self.sweep.key(number)}.json"


def digest(result: Any) -> str:
    """SHA-256 of plain data; equal only where every bit of every number is."""
    return hashlib.sha256(canonical(result)).hexdigest()


def _write(path: Path, text: str) -> None:
    temporary = path.with_suffix(f".{os.getpid()}.part")
    with temporary.open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    temporary.replace(path)
