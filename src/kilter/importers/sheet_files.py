"""The files of a schematic: each is read once, lies in the folder of the first or below, and is used finitely often."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Generic, TypeVar

from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput

Read = TypeVar("Read")

MOST_SHEETS = 1000
"""Uses of sheets at which a schematic is refused."""


class SheetFiles(Generic[Read]):
    """
    Sheets by their file name.

    Args:
        path: Of the first sheet.
        parse: From a file's text and name to whatever the format needs.
    """

    def __init__(self, path: Path, parse: Callable[[str, str], Read]) -> None:
        self.path, self.parse = path, parse
        self.doing = f"Cannot read the schematic {path.name}"
        self.known: dict[Path, Read] = {}
        self.uses = 0

    def first(self) -> Read:
        """The first sheet."""
        return self._read(self.path)

    def below(self, name: str, above: tuple[Path, ...], where: str) -> tuple[Path, Read]:
        """
        A sheet that another one names.

        Args:
            name: As written.
            above: The files on the way from the first sheet, the nearest last.
            where: File and line that name it.

        Raises:
            BadInput: No name, outside the folder, absent, inside itself, or too many uses.
        """
        self.uses += 1
        path = (above[-1].parent / name.replace("\\", "/")).resolve()
        found = ""
        if not name.strip():
            found = f"a sheet without a file name at {where}"
        elif not path.is_relative_to(self.path.resolve().parent):
            found = f"the sheet '{name}' outside the folder of {self.path.name} at {where}"
        elif path in above:
            found = f"the sheet '{name}' inside itself at {where}"
        elif self.uses > MOST_SHEETS:
            found = f"more than {MOST_SHEETS} uses of sheets at {where}"
        elif not path.is_file():
            found = f"the sheet '{name}', which is not there, at {where}"
        if found:
            raise BadInput(self.doing, found, "sheets in files beside the first one, none inside itself",
                           "Copy all sheets of the schematic into one folder.")  # fmt: skip
        return path, self._read(path)

    def _read(self, path: Path) -> Read:
        path = path.resolve()
        if path not in self.known:
            self.known[path] = self.parse(read_text(path, f"the sheet of {self.path.name}"), path.name)
        return self.known[path]
