"""What the command-line tests share: a small board and its readings, and what a command leaves behind."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

BOARDS = Path(__file__).parent / "boards"
LADDER = str(BOARDS / "ladder.toml")
FAULTY = str(BOARDS / "faulty.csv")


@dataclass(frozen=True)
class Ran:
    """What a command left behind."""

    code: int
    out: str
    err: str

    def json(self) -> Any:
        """Its output as plain data."""
        return json.loads(self.out)


Command = Callable[..., Ran]
