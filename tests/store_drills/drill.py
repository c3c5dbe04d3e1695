"""Runs a drill of writers.py on a record of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any


def drill(home: Path, address: str, what: str, *wishes: object) -> dict[str, Any]:
    """What the drill answered."""
    from sitting import surroundings

    script = Path(__file__).with_name("writers.py")
    done = subprocess.run([sys.executable, str(script), what, *map(str, wishes)], capture_output=True, text=True,
                          check=False, env=surroundings(home, address))  # fmt: skip
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told
