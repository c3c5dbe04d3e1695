"""
The pages' benchmark ends on a small record, and what it puts in by the thousand is a record that holds.

Outside judge of the second: the record's own check, which reads every journal row's hash and every row it tells of and
knows nothing of the way in which the benchmark writes them.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

BENCHMARK = Path(__file__).parents[2] / "benchmarks" / "pages.py"


def test_a_small_run_ends_and_leaves_a_record_that_holds(tmp_path: Path) -> None:
    home = tmp_path / "home"
    size = ["--objects", "60", "--readings", "1500", "--runs", "1", "--keep", str(home)]
    done = subprocess.run([sys.executable, str(BENCHMARK), *size], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "61 objects, 1,500 readings" in done.stdout
    assert "bench after a new reading, 60 parts" in done.stdout
    told = {**os.environ, "KILTER_HOME": str(home)}
    told.pop("DJANGO_SETTINGS_MODULE", None)
    check = [sys.executable, "-m", "kilter", "store", "check"]
    checked = subprocess.run(check, env=told, capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    assert "nothing wrong" in checked.stdout
