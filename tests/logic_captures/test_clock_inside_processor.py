"""
A processor that divides its crystal inside: the four readings that convict it, read from files.

The expected outcome is common practice, no source: with a right input clock and a right supply, no output clock, and
twice the temperature of the known-good one, the processor is the first suspect, above 90 %. The object is known not to
work, which is what the commands suppose of an object on the bench unless told otherwise.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from made_captures import session, square

from kilter.circuit.board import Board
from kilter.importers.load import load_board, load_readings
from kilter.importers.logic_capture import read_logic_capture
from kilter.importers.meter_log import read_meter_logs
from kilter.records.reading import Reading
from kilter.services.diagnose import Diagnoser
from kilter.services.read_logic_capture import look_at, readings_at
from kilter.services.read_meter_log import reading_of_log

FOLDER = Path(__file__).parent / "processor"
RATE, CRYSTAL = 48e6, 6e6


@pytest.fixture(scope="module")
def board() -> Board:
    return load_board(FOLDER / "board.toml")


def captured(folder: Path, board: Board, *, output_clock: bool) -> tuple[Reading, ...]:
    """Input and output clock, from a zipped logic session at 48 MHz."""
    seconds = 0.02
    words = square(CRYSTAL * 1.00002, RATE, seconds)
    if output_clock:
        words = words | square(CRYSTAL / 12, RATE, seconds) << 1
    path = session(folder / "clocks.sr", words.astype(np.uint8), ["XTAL", "ALE"], rate="48 MHz")
    found = readings_at(look_at(read_logic_capture(path)), board, state="on")
    assert {one.point for one in found.readings} == {"xtal", "ale"}
    return found.readings


def logged(folder: Path, board: Board) -> Reading:
    """The supply, from a meter's log."""
    lines = [f"2024-05-04 10:00:{second:02},{5.02 + 0.001 * (second % 3):.3f}" for second in range(60)]
    path = folder / "supply.csv"
    path.write_text("Time,Voltage (V DC)\n" + "\n".join(lines) + "\n")
    (log,) = read_meter_logs(path)
    return reading_of_log(log, board, "vcc", state="on").reading


def test_processor_is_convicted(board: Board, tmp_path: Path) -> None:
    warm = load_readings(FOLDER / "temperature.csv", board)
    readings = [*captured(tmp_path, board, output_clock=False), logged(tmp_path, board), *warm]
    assert len(readings) == 4
    found = Diagnoser(board, power_checks=True, not_working=True).diagnose(readings)
    assert found.suspects[0].part == "U1"
    assert found.suspects[0].probability > 0.9


def test_each_reading_is_needed(board: Board, tmp_path: Path) -> None:
    """Without the missing output clock nothing convicts it: heat alone is weak evidence."""
    warm = load_readings(FOLDER / "temperature.csv", board)
    clocks = captured(tmp_path, board, output_clock=False)
    crystal = [one for one in clocks if one.point == "xtal"]
    found = Diagnoser(board, power_checks=True, not_working=True).diagnose([*crystal, logged(tmp_path, board), *warm])
    assert all(one.probability < 0.9 for one in found.suspects if one.part == "U1")


def test_a_running_processor_is_let_go(board: Board, tmp_path: Path) -> None:
    clocks = captured(tmp_path, board, output_clock=True)
    output = next(one for one in clocks if one.point == "ale")
    assert output.value == pytest.approx(CRYSTAL / 12, rel=1e-4)
    found = Diagnoser(board, power_checks=True).diagnose([*clocks, logged(tmp_path, board)])
    assert all(one.probability < 0.05 for one in found.suspects if one.part == "U1")
