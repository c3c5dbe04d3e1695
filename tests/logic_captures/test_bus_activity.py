"""What buses do, against the truth of how they were made."""

from __future__ import annotations

import numpy as np
import pytest
from made_captures import sampled

from kilter.signals.bus_activity import address_walk, bus_states, overlaps
from kilter.signals.logic_lines import FLOATING, LogicBus


def counter(bits: int, words: int, *, hold: int = 4) -> dict[str, np.ndarray]:
    """A binary counter: line n has half the rate of line n - 1 (definition)."""
    values = np.repeat(np.arange(words), hold)
    return {f"A{bit}": (values >> bit) & 1 for bit in range(bits)}


def walk(levels):
    capture = sampled(levels)
    return address_walk(list(capture.lines.values()), capture)


def test_a_free_running_counter_halves() -> None:
    steps = walk(counter(8, 4096))
    assert [one.verdict for one in steps] == ["first", *["halves"] * 7]
    assert [one.ratio for one in steps[1:]] == pytest.approx([2.0] * 7, rel=0.08)


def test_a_line_too_slow_for_the_capture_is_not_called_stuck() -> None:
    steps = walk(counter(16, 1000))
    assert steps[9].verdict != "still"
    assert {one.verdict for one in steps[10:]} == {"too slow to tell"}


def test_a_still_line_is_found_in_the_walk() -> None:
    levels = counter(8, 4096)
    levels["A3"] = np.zeros_like(levels["A3"])
    assert [one.line for one in walk(levels) if one.verdict == "still"] == ["A3"]


def test_exchanged_lines_do_not_halve() -> None:
    levels = counter(8, 4096)
    levels["A2"], levels["A5"] = levels["A5"], levels["A2"]
    assert {one.line for one in walk(levels) if one.verdict == "does not halve"} == {"A2", "A3", "A5", "A6"}


def test_words_of_a_bus() -> None:
    levels = {"D0": [0, 1, 1, 0], "D1": [0, 0, 1, 1]}
    capture = sampled(levels)
    found = bus_states(list(capture.lines.values()), capture)
    assert found.distinct == 4
    assert dict(found.held) == {0: 0.25, 1: 0.25, 2: 0.25, 3: 0.25}


def test_floating_bus_is_told_apart() -> None:
    capture = sampled({"D0": [0, FLOATING, 1, 1], "D1": [0, FLOATING, 2, 1]})
    found = bus_states(list(capture.lines.values()), capture)
    assert (found.floating, found.unknown, found.distinct) == (0.25, 0.25, 2)


def test_still_and_joined_lines_of_a_bus() -> None:
    rng = np.random.default_rng(5)
    levels = {f"D{i}": rng.integers(0, 2, 500) for i in range(8)}
    levels["D6"] = np.ones(500, int)
    levels["D4"] = levels["D2"]
    capture = sampled(levels)
    found = bus_states(list(capture.lines.values()), capture)
    assert found.still == (("D6", "high"),)
    assert found.joined == (("D2", "D4"),)


def test_few_words_accuse_nobody() -> None:
    capture = sampled({"D0": [0, 1, 0, 1], "D1": [0, 0, 0, 0]})
    assert bus_states(list(capture.lines.values()), capture).still == ()


def test_selects_that_overlap() -> None:
    one, other = np.ones(1000, int), np.ones(1000, int)
    one[100:200] = 0
    other[150:260] = 0
    capture = sampled({"cs1": one, "cs2": other, "cs3": np.ones(1000, int)}, step=1e-6)
    (found,) = overlaps(list(capture.lines.values()), capture)
    assert (found.first, found.second, found.times, found.skew) == ("cs1", "cs2", 1, False)
    assert found.longest == pytest.approx(50e-6)
    quick = sampled({"cs1": one, "cs2": other}, step=1e-9)
    assert overlaps(list(quick.lines.values()), quick)[0].skew
    high = overlaps(list(capture.lines.values()), capture, asserted={"cs1": 1})
    assert ("cs1", "cs3") not in {(one.first, one.second) for one in high}
    assert {(one.first, one.second) for one in high} == {("cs1", "cs2")}


def test_lines_of_a_word() -> None:
    word = np.array([0, 5, 7, 4], np.uint64)
    bus = LogicBus("d", 3, np.array([0, 1, 2, 3]), word, word * 0, word * 0)
    assert [line.levels.tolist() for line in bus.lines()] == [[0, 1, 0], [0, 1, 0], [0, 1]]
