"""Pictures: both kinds are written, and what they show is what the diagnosis says."""

from __future__ import annotations

import sys
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from command_line import FAULTY, LADDER, Command

from kilter.services.compare import compare
from kilter.services.course import course
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.loading import load_board, load_readings

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
"""PNG specification (W3C), 5.2."""


def test_svg_and_png_are_written(kilter: Command, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    ran = kilter("diagnose", LADDER, "--readings", FAULTY, "--plot", str(tmp_path / "pictures"))
    assert ran.code == 0
    names = sorted(path.name for path in (tmp_path / "pictures").iterdir())
    assert names == ["course.png", "course.svg", "readings.png", "readings.svg"]
    for path in (tmp_path / "pictures").glob("*.png"):
        assert path.read_bytes().startswith(PNG_SIGNATURE)
    for path in (tmp_path / "pictures").glob("*.svg"):
        words = " ".join(ElementTree.parse(path).getroot().itertext())
        assert "Ladder of three" in words
        assert "R3" in words


def test_without_the_library_the_extra_is_named(
    kilter: Command, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    ran = kilter("diagnose", LADDER, "--readings", FAULTY, "--plot", str(tmp_path))
    assert ran.code == 2
    assert "kilter[plots]" in ran.err


def test_no_reading_is_no_picture(kilter: Command, tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    nothing = tmp_path / "nothing.csv"
    nothing.write_text("point,value\nR3,renewed\n")
    assert kilter("diagnose", LADDER, "--readings", str(nothing), "--plot", str(tmp_path)).code == 2


def test_course_ends_where_the_diagnosis_is() -> None:
    """Second method: the readings weighed one by one end at the posterior of all readings together."""
    board = load_board(LADDER)
    with diagnoser(board) as weigher:
        diagnosis = weigher.diagnose(load_readings(FAULTY, board))
        found = course(weigher, diagnosis)
    ends = {part: float(shares[-1]) for part, shares in found.parts.items()}
    assert ends == pytest.approx(diagnosis.posterior.parts(), abs=1e-9)
    assert found.outside[-1] == pytest.approx(diagnosis.posterior.not_in_model, abs=1e-9)
    assert found.healthy[-1] == pytest.approx(diagnosis.posterior.healthy, abs=1e-9)


def test_comparison_follows_ohms_law() -> None:
    """Healthy 6.67 V and 3.33 V; ten volts where R3 is open. Tolerance of the mean over twenty samples: 0.06 V."""
    board = load_board(LADDER)
    with diagnoser(board) as weigher:
        rows = compare(weigher, weigher.diagnose(load_readings(FAULTY, board)))
    assert [row.healthy.mean for row in rows] == pytest.approx([20 / 3, 10 / 3], abs=0.06)
    assert [row.leading.mean for row in rows] == pytest.approx([10.0, 10.0], abs=0.06)
    assert np.isfinite([row.evidence.sd for row in rows]).all()
