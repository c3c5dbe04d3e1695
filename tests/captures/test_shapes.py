"""Every shape is read by its structure; what must be found was counted by hand when the shape was built."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from shapes import ROWS, STEP, Shape, shapes, wave

from kilter.importers.captures.read_capture import read_capture


@pytest.mark.parametrize("shape", shapes(), ids=lambda shape: shape.name)
def test_shape(shape: Shape, tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    path.write_bytes(shape.content)
    capture = read_capture(path)
    assert tuple(one.name for one in capture.waveforms) == shape.channels
    for place, one in enumerate(capture.waveforms):
        assert len(one.values) == shape.rows
        assert one.unit == shape.unit
        if shape.interval is None:
            assert one.interval is None
        else:
            assert one.interval == pytest.approx(shape.interval, rel=2e-4)
        expected = [wave(row, place) for row in range(ROWS)]
        np.testing.assert_allclose(one.values, expected, atol=6e-3 if shape.name == "start_increment" else 1e-6)
    told = " ".join([*capture.warnings, *(words for one in capture.waveforms for words in one.warnings)])
    assert all(words in told for words in shape.doubts)


def test_large_and_small_files_are_read_alike(tmp_path: Path) -> None:
    """Long clean files take the fast way; the reference is numpy.loadtxt."""
    rng = np.random.default_rng(5)
    table = np.column_stack([np.arange(20_000) * 1e-6, rng.normal(size=20_000)])
    path = tmp_path / "long.csv"
    np.savetxt(path, table, delimiter=",", header="Time (s),CH1 (V)", fmt="%.9g")
    only = read_capture(path).waveforms[0]
    reference = np.loadtxt(path, delimiter=",")
    assert np.array_equal(only.values, reference[:, 1])
    assert only.interval == pytest.approx(1e-6, rel=1e-9)


def test_gaps_are_kept_as_gaps(tmp_path: Path) -> None:
    path = tmp_path / "gaps.csv"
    lines = [f"{row * STEP:.6f},{'' if row in (7, 8) else 'NaN' if row == 9 else wave(row)}" for row in range(60)]
    path.write_text("Time (s),CH1 (V)\n" + "\n".join(lines))
    capture = read_capture(path)
    assert np.flatnonzero(np.isnan(capture.waveforms[0].values)).tolist() == [7, 8, 9]
    assert any("Cells without a number: 3" in words for words in capture.warnings)


def test_words_among_the_numbers_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "torn.csv"
    lines = [f"{row * STEP:.7f},{wave(row)}" for row in range(100)]
    lines.insert(50, "trigger lost")
    path.write_text("Time (s),CH1 (V)\n" + "\n".join(lines))
    capture = read_capture(path)
    assert len(capture.waveforms[0].values) == 100
    assert any("left out: 1" in words for words in capture.warnings)


def test_jump_in_time_leaves_the_longest_stretch(tmp_path: Path) -> None:
    path = tmp_path / "jump.csv"
    times = [row * STEP + (0.5 if row >= 300 else 0) for row in range(400)]
    path.write_text("Time (s),CH1 (V)\n" + "\n".join(f"{t:.7f},{wave(r)}" for r, t in enumerate(times)))
    only = read_capture(path).waveforms[0]
    assert len(only.values) == 300
    assert only.interval == pytest.approx(STEP, rel=1e-4)
    assert any("jumps 1 times" in words for words in only.warnings)


def test_header_that_contradicts_is_told(tmp_path: Path) -> None:
    path = tmp_path / "contradiction.csv"
    path.write_text("Sample Interval,5e-06\nTime (s),CH1 (V)\n"
                    + "\n".join(f"{r * STEP:.7f},{wave(r)}" for r in range(100)))  # fmt: skip
    only = read_capture(path).waveforms[0]
    assert only.interval == pytest.approx(STEP, rel=1e-4)
    assert any("header tells" in words for words in only.warnings)


def test_interval_given_by_hand(tmp_path: Path) -> None:
    path = tmp_path / "bare.csv"
    path.write_text("\n".join(str(wave(row)) for row in range(100)))
    only = read_capture(path, interval=1e-3).waveforms[0]
    assert only.interval == 1e-3
    assert any("by hand" in words for words in only.warnings)


def test_times_with_few_digits_do_not_make_a_round_interval(tmp_path: Path) -> None:
    """
    Steps of 20 µs written to 0.1 ms: the interval is told with its doubt, not taken for the round 20.1 µs it seems.

    The bound is by hand: 0.1 ms of rounding at either end of 8 ms is 0.5 % standard, so four of these hold the truth.
    """
    times = 0.12 + 2e-5 * np.arange(400)
    path = tmp_path / "few.csv"
    path.write_text("Time(s),CH1(V)\n" + "".join(f"{t:.4f},{np.sin(3141.6 * t):.4f}\n" for t in times))
    only = read_capture(path).waveforms[0]
    assert only.interval is not None
    assert abs(only.interval / 2e-5 - 1) < 4 * only.interval_uncertainty
    assert 2e-3 < only.interval_uncertainty < 1e-2


def test_times_with_three_digits_do_not_jump_where_their_power_of_ten_grows(tmp_path: Path) -> None:
    """Steps of 50 ns written as -5.11e-03 to 2.11e-02: the last digit is worth ten times more from 0.01 s on."""
    times = -5.11e-3 + 5e-8 * np.arange(524_000)
    path = tmp_path / "three.csv"
    path.write_text("X,CH1\nSecond,Volt,\n" + "".join(f"{t:.2e},{int(t * 1000) % 2}\n" for t in times))
    only = read_capture(path).waveforms[0]
    assert len(only.values) == len(times)
    assert only.interval is not None
    assert abs(only.interval / 5e-8 - 1) < max(4 * only.interval_uncertainty, 1e-9)


def test_times_written_twice_keep_the_frequency(tmp_path: Path) -> None:
    """Lowest and highest of each stretch under one time: two samples in each 20 µs, so 10 µs apart, and it is said."""
    times = 2e-5 * np.arange(300)
    rows = (f"{t:.9E},{np.sin(t) - 0.1:.6E}\n{t:.9E},{np.sin(t) + 0.1:.6E}\n" for t in times)
    path = tmp_path / "pairs.csv"
    path.write_text("in s,C1 in V\n" + "".join(rows))
    capture = read_capture(path)
    assert capture.waveforms[0].interval == pytest.approx(1e-5, rel=1e-6)
    told = " ".join([*capture.warnings, *capture.waveforms[0].warnings])
    assert "written twice" in told
