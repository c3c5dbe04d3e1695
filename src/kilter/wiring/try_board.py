"""Try files that are to become a board: whether they load, in a folder that is thrown away."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path, PurePosixPath

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput


def try_files(files: Mapping[str, bytes], main: str, load: Callable[[str], Board]) -> Board:
    """
    The board that the files make.

    Args:
        files: Relative names to contents.
        main: Which of them to load.
        load: `kilter.importers.load.load_board`.

    Raises:
        BadInput: They make none; the message names no folder of this machine.
    """
    with tempfile.TemporaryDirectory(prefix="kilter-board-") as folder:
        for name, content in files.items():
            path = PurePosixPath(name)
            if path.is_absolute() or ".." in path.parts or "\\" in name:
                raise BadInput("Cannot try the board", f"a file called {name[:80]!r}", "a plain name", "Rename it.")
            target = Path(folder) / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
        try:
            return load(str(Path(folder) / main))
        except BadInput as error:
            parts = (one.replace(f"{folder}/", "").replace(folder, "") for one in
                     (error.doing, error.found, error.allowed, error.do_next))  # fmt: skip
            raise BadInput(*parts) from None
