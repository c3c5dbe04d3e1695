"""Short waits, and the makers of instruments importable."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from kilter.measure.tables import table

sys.path.insert(0, str(Path(__file__).parent))
pytest.importorskip("pyvisa")
pytest.importorskip("pyvisa_py")


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    limits = table("live_profiles")["limits"]
    monkeypatch.setitem(limits, "answer_s", 0.25)
    monkeypatch.setitem(limits, "block_s", 3.0)


@pytest.fixture
def simulated() -> str:
    """PyVISA's simulated backend with the instruments of bench.yaml."""
    pytest.importorskip("pyvisa_sim")
    return f"{Path(__file__).parent / 'bench.yaml'}@sim"
