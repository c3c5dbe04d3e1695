"""What lines do, against the truth of how they were made."""

from __future__ import annotations

import numpy as np
import pytest
from made_captures import sampled, square

from kilter.signals.line_activity import line_activity
from kilter.signals.logic_lines import HIGH, LOW, UNKNOWN, LogicCapture
from kilter.signals.reset_course import reset_course

RATE = 1e6


def look(levels, *, step=1 / RATE, time_base=0.0):
    capture = sampled({"d": levels}, step=step)
    return line_activity(capture.lines["d"], capture, time_base=time_base)


def test_frequency_and_its_uncertainty_over_many_clocks() -> None:
    """Closed form: the clock that was made. 95 % lie within two standard uncertainties, all within three."""
    rng, within, beyond = np.random.default_rng(7), 0, 0
    for _ in range(400):
        hertz, phase, duty = rng.uniform(300, 200e3), rng.uniform(), rng.uniform(0.4, 0.6)
        found = look(square(hertz, RATE, 0.02, duty=duty, phase=phase)).frequency
        assert found is not None
        off = abs(found.value - hertz) / found.uncertainty
        within, beyond = within + (off <= 2), beyond + (off > 3)
    assert within >= 0.95 * 400
    assert beyond == 0


def test_duty_lies_within_its_uncertainty() -> None:
    rng = np.random.default_rng(8)
    for _ in range(100):
        duty = rng.uniform(0.2, 0.8)
        found = look(square(rng.uniform(500, 20e3), RATE, 0.02, duty=duty, phase=rng.uniform())).duty
        assert found is not None
        assert abs(found.value - duty) < 3 * found.uncertainty


def test_the_time_base_is_part_of_the_uncertainty() -> None:
    found = look(square(1000.3, RATE, 0.5), time_base=50e-6).frequency
    assert found is not None
    assert found.uncertainty == pytest.approx(1000.3 * 50e-6, rel=0.05)


@pytest.mark.parametrize("hertz", [290e3, 330e3, 480e3, 610e3, 1.45e6])
def test_what_is_too_fast_gets_no_frequency(hertz: float) -> None:
    """Near half the sample rate nothing tells a line from its alias."""
    found = look(square(hertz, RATE, 0.05))
    assert found.frequency is None
    assert found.word == "pulsing"
    assert "alias" in found.why or "vary" in found.why


def test_a_frequency_says_that_it_may_be_an_alias() -> None:
    """900 kHz sampled at 1 MHz gives the very samples of 100 kHz (sampling theorem): no look at them can tell."""
    found = look(square(900e3, RATE, 0.05, phase=0.03))
    assert found.frequency is not None
    assert any("another sample rate" in words for words in found.remarks)


@pytest.mark.parametrize(("level", "word"), [(LOW, "low"), (HIGH, "high"), (3, "floating"), (UNKNOWN, "unknown")])
def test_still_lines(level: int, word: str) -> None:
    found = look(np.full(1000, level))
    assert (found.word, found.frequency, found.changes) == (word, None, 0)
    assert found.activity == ("none" if level in (LOW, HIGH) else "")


def test_bursts_are_counted() -> None:
    one = np.concatenate([square(50e3, RATE, 0.002), np.zeros(20_000, np.uint8)])
    found = look(np.tile(one, 5))
    assert (found.bursts, found.frequency, found.why) == (5, None, "it comes in bursts")


def test_glitches_are_found() -> None:
    levels = square(1000, RATE, 0.1)
    levels[[40_200, 70_200]] ^= 1
    found = look(levels)
    assert (found.glitches, found.first_glitch) == (2, pytest.approx(0.0402))
    assert look(square(1000, RATE, 0.1)).glitches == 0


def test_random_data_have_no_frequency() -> None:
    levels = np.repeat(np.random.default_rng(3).integers(0, 2, 2000), 10)
    found = look(levels)
    assert found.frequency is None
    assert found.word == "pulsing"


def test_a_few_edges_are_no_frequency() -> None:
    assert "1 whole period" in look(square(100, RATE, 0.03)).why


def test_what_is_untold_is_counted() -> None:
    levels = square(1000, RATE, 0.1).copy()
    levels[20_000:50_000] = UNKNOWN
    found = look(levels)
    assert found.known == pytest.approx(0.7)
    assert any("70%" in words for words in found.remarks)
    assert found.frequency is not None
    assert found.frequency.value == pytest.approx(1000)


def test_a_gap_of_the_capture_is_untold() -> None:
    made = sampled({"d": square(1000, RATE, 0.1)})
    gap = LogicCapture("made", made.tick, 0, made.end, lines=made.lines, gaps=((10_000, 60_000),))
    assert line_activity(gap.lines["d"], gap).known == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("levels", "course", "length", "at_least"),
    [
        ([0] * 200 + [1] * 800, "released once", 200e-6, True),
        ([1] * 100 + [0] * 200 + [1] * 700, "asserted later", 200e-6, False),
        ([0] * 1000, "asserted throughout", 1000e-6, True),
        ([1] * 1000, "never asserted", None, False),
        (([0] * 100 + [1] * 100) * 5, "asserted again", 100e-6, True),
        ([2] * 10, "not told", None, True),
    ],
)
def test_reset_lines(levels: list[int], course: str, length: float | None, at_least: bool) -> None:
    capture = sampled({"reset": levels})
    found = reset_course(capture.lines["reset"], capture)
    assert (found.course, found.at_least) == (course, at_least)
    assert (found.length.value if found.length else None) == (pytest.approx(length) if length else None)
    inverted = sampled({"reset": [1 - level if level < 2 else level for level in levels]})
    assert reset_course(inverted.lines["reset"], inverted, asserted=HIGH).course == course
