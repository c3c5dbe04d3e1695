"""Meter logs in many shapes; times against the standard library, drift against scipy's linear regression."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import linregress

from kilter.circuit.board import Board, Point, State
from kilter.importers.log_times import read_times
from kilter.importers.meter_log import read_meter_logs
from kilter.measure.errors import BadInput
from kilter.services.read_meter_log import reading_of_log
from kilter.signals.meter_log import MeterLog, steadiness

BOARD = Board(
    "b",
    points={"TP1": Point("TP1", "vcc")},
    states={"on": State("on", powered=True), "off": State("off", powered=False)},
)


def logs(text: str, tmp_path: Path, encoding: str = "utf-8") -> tuple[MeterLog, ...]:
    path = tmp_path / "log.csv"
    path.write_bytes(text.encode(encoding))
    return read_meter_logs(path)


SHAPES = {
    "iso": "Time,Voltage (V)\n2024-03-01T12:00:00,4.98\n2024-03-01T12:00:01,4.99\n2024-03-01T12:00:02,5.00\n",
    "date and clock": "Date,Time,DC V\n1.3.2024,12:00:00,4.98\n1.3.2024,12:00:01,4.99\n1.3.2024,12:00:02,5\n",
    "unit in the cell": "Timestamp;Value\n12:00:00;4,98 V\n12:00:01;4,99 V\n12:00:02;5,00 V\n",
    "unit beside": "No.,Time,Value,Unit\n1,12:00:00,4980,mV DC\n2,12:00:01,4990,mV DC\n3,12:00:02,5000,mV DC\n",
    "seconds": "elapsed (s)\tV\n0.0\t4.98\n1.0\t4.99\n2.0\t5.00\n",
    "milliseconds": "time [ms],volts [V]\n0,4.98\n1000,4.99\n2000,5.00\n",
    "since 1970": "timestamp,volts [V]\n1709294400,4.98\n1709294401,4.99\n1709294402,5.00\n",
    "am and pm": "Time,V\n11:59:59 AM,4.98\n12:00:00 PM,4.99\n12:00:01 PM,5.00\n",
    "over midnight": "Time,V\n23:59:59,4.98\n00:00:00,4.99\n00:00:01,5.00\n",
    "preamble": "Meter log\nSerial: 12\n\nTime,Reading (V)\n12:00:00,4.98\n12:00:01,4.99\n12:00:02,5.00\n",
}


@pytest.mark.parametrize("shape", SHAPES)
def test_shapes(shape: str, tmp_path: Path) -> None:
    (log,) = logs(SHAPES[shape], tmp_path)
    assert log.values.tolist() == pytest.approx([4.98, 4.99, 5.0])
    assert log.seconds.tolist() == pytest.approx([0, 1, 2])
    assert log.unit == "V"


def test_several_columns(tmp_path: Path) -> None:
    found = logs("Time,Supply (V),Current (mA)\n12:00:00,5.0,120\n12:00:01,5.1,130\n", tmp_path)
    assert [(log.unit, log.values[1]) for log in found] == [("V", 5.1), ("A", 0.13)]


@pytest.mark.parametrize(
    "cells",
    [
        ["2024-02-28 23:59:59.5", "2024-02-29 00:00:01"],
        ["2024-03-01T12:00:00Z", "2024-03-01T14:00:00+01:00"],
        ["2024/03/01 12:00", "2024/03/02 12:01"],
    ],
)
def test_times_as_the_standard_library_has_them(cells: list[str]) -> None:
    one, other = (datetime.fromisoformat(cell.replace("/", "-")) for cell in cells)
    assert read_times(cells).seconds[1] == pytest.approx((other - one).total_seconds())


@pytest.mark.parametrize(
    ("cells", "apart", "doubt"),
    [
        (["13/01/2024 10:00:00", "14/01/2024 10:00:00"], 86400, False),
        (["01/13/2024 10:00:00", "01/14/2024 10:00:00"], 86400, False),
        (["05.01.2024 10:00:00", "06.01.2024 10:00:00"], 86400, False),
        (["05/01/2024 10:00:00", "06/01/2024 10:00:00"], 86400 * 31, True),
        (["01/05/2024 10:00:00", "01/06/2024 10:00:00"], 86400, True),
    ],
)
def test_day_or_month_first(cells: list[str], apart: float, doubt: bool) -> None:
    found = read_times(cells)
    assert bool(found.doubts) == doubt
    assert found.seconds[1] == apart or doubt
    assert found.began == "" or not doubt


def test_over_limit_and_nothing(tmp_path: Path) -> None:
    """9.9E37 is infinity and 9.91E37 'not a number' in SCPI-99, volume 1, 7.2.1.5 (from memory)."""
    (log,) = logs(
        "Time,R (ohm)\n12:00:00,OL\n12:00:01,9.9E37\n12:00:02,9.91E37\n12:00:03,---\n12:00:04,470\n", tmp_path
    )
    assert log.values.tolist() == [np.inf, np.inf, 470]
    assert any("2 of 5" in words for words in log.warnings)


def test_drift_against_linear_regression() -> None:
    rng, seconds = np.random.default_rng(6), np.arange(2000.0)
    values = 5.0 + 1e-5 * seconds + rng.normal(0, 0.01, 2000)
    found, judge = steadiness(MeterLog("m", "V", seconds, values)), linregress(seconds / 3600, values)
    assert found.drift is not None
    assert found.drift.value == pytest.approx(judge.slope, rel=1e-9)
    assert found.drift.uncertainty == pytest.approx(judge.stderr, rel=0.1)
    assert found.drifts


def test_drift_is_not_seen_where_there_is_none() -> None:
    """Of 300 logs whose noise wanders slowly and that do not drift, hardly more than 5 % are called drifting."""
    rng, called = np.random.default_rng(9), 0
    for _ in range(300):
        noise = np.zeros(300)
        for i, step in enumerate(rng.normal(0, 0.01, 300)):
            noise[i] = (0.7 * noise[i - 1] if i else 0.0) + step
        called += steadiness(MeterLog("m", "V", np.arange(300.0), 5 + noise)).drifts
    assert called <= 0.1 * 300


def test_reading_of_a_log(tmp_path: Path) -> None:
    (log,) = logs(SHAPES["iso"], tmp_path)
    found = reading_of_log(log, BOARD, "tp1")
    assert (found.reading.point, found.reading.quantity, found.reading.state) == ("TP1", "voltage", "on")
    assert found.reading.value == pytest.approx(4.99)
    assert found.reading.uncertainty > found.steady.mean.uncertainty > 0
    assert found.reading.time == "2024-03-01T12:00:00"


@pytest.mark.parametrize(
    ("text", "piece"),
    [
        ("", "empty"),
        ("Time,Word\n12:00:00,hello\n12:00:01,world\n", "no column of values"),
        ("Time,V\n12:00:00,4.98\n12:00:01,4.9x8\n12:00:02,5\n12:00:03,5\n", "'4.9x8'"),
        ("Time,Value\n12:00:00,4.98 V\n12:00:01,120 mA\n", "A and in V"),
    ],
)
def test_bad_logs_are_refused(text: str, piece: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput) as caught:
        logs(text, tmp_path)
    assert piece in str(caught.value)
    assert "log.csv" in str(caught.value)


def test_a_log_without_unit_or_partly_over_limit_is_no_reading(tmp_path: Path) -> None:
    (bare,) = logs("Time,Value\n12:00:00,4.98\n12:00:01,4.99\n", tmp_path)
    with pytest.raises(BadInput, match="does not tell what was read"):
        reading_of_log(bare, BOARD, "TP1")
    assert reading_of_log(bare, BOARD, "TP1", quantity_key="voltage").reading.value == pytest.approx(4.985)
    (mixed,) = logs("Time,R (ohm)\n12:00:00,OL\n12:00:01,470\n", tmp_path)
    with pytest.raises(BadInput, match="1 entries over the limit"):
        reading_of_log(mixed, BOARD, "TP1")
