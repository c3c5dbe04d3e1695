"""What is said where the optimiser is absent, and that its own lines never get among the answers."""

from __future__ import annotations

import subprocess
import sys

import pytest

from kilter.measure.errors import NotAvailable
from kilter.planning.allocation import solver


def test_absent(monkeypatch: pytest.MonkeyPatch) -> None:
    def absent(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr(solver, "import_module", absent)
    with pytest.raises(NotAvailable, match="no scipy on this machine"):
        solver.optimiser()
    with pytest.raises(NotAvailable, match="Install it"):
        solver.sparse()


def test_lines_of_the_optimiser_go_to_stderr() -> None:
    """A line written past Python to the same file, as the optimiser's compiled code does."""
    code = (
        "import os; from kilter.planning.allocation.solver import aside\n"
        "print('before')\nwith aside(): os.write(1, b'noise\\n')\nprint('after')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "before\nafter\n"
    assert done.stderr == "noise\n"


def test_planning_loads_no_optimiser_before_it_is_asked() -> None:
    code = "import sys, kilter.cli.allocate, kilter.cli.options; print('scipy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
