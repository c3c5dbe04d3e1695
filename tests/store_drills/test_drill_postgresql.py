"""All tests of the record on PostgreSQL, as they are."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

from servers import Server

ROOT = Path(__file__).parents[2]


def test_the_same_suite(server: Server) -> None:
    around = {name: value for name, value in os.environ.items() if name not in ("KILTER_HOME", "KILTER_DATABASE")}
    around["KILTER_TEST_DATABASE"] = server.new_database()
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/store"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT, env=around)
    assert done.returncode == 0, done.stdout[-5000:]
    passed = re.search(r"(\d+) passed", done.stdout)
    assert passed is not None
    assert int(passed[1]) > 200
