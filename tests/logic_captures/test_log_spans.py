"""
Stretches of a log, and whether it moves slowly.

The share of steady logs that seem to move has to be the 5 % of the test (binomial, counted over many made logs); the
statistic itself is checked on a worked case and by its mean over independent normal values, 2 (von Neumann, 1941).
"""

from __future__ import annotations

import numpy as np
import pytest

from kilter.measure.errors import BadInput
from kilter.signals.log_span import moves, span_of, steady_from
from kilter.signals.meter_log import MeterLog


def log_of(values: np.ndarray, every: float = 1.0) -> MeterLog:
    return MeterLog("made", "V", np.arange(len(values)) * every, np.asarray(values, np.float64))


def test_a_stretch_holds_both_ends() -> None:
    found = span_of(log_of(np.arange(10.0)), 2.0, 5.0)
    assert found.values.tolist() == [2, 3, 4, 5]
    assert found.seconds.tolist() == [2, 3, 4, 5]
    assert len(span_of(log_of(np.arange(10.0))).values) == 10
    with pytest.raises(BadInput):
        span_of(log_of(np.arange(10.0)), 5.2, 5.8)
    with pytest.raises(BadInput):
        span_of(log_of(np.zeros(0)))


def test_false_alarms_are_those_of_the_level() -> None:
    rng = np.random.default_rng(7)
    alarms = sum(bool(moves(log_of(rng.standard_normal(100)))) for _ in range(2000))
    assert abs(alarms / 2000 - 0.05) < 4 * np.sqrt(0.05 * 0.95 / 2000)


@pytest.mark.parametrize("slow", [np.linspace(0, 3, 200), 3 * np.exp(-np.arange(200) / 40),
                                  np.sin(np.arange(200) / 30)], ids=["ramp", "settling", "wave"])  # fmt: skip
def test_what_moves_is_seen(slow: np.ndarray) -> None:
    noise = 0.3 * np.random.default_rng(3).standard_normal(200)
    assert moves(log_of(slow + noise)) is True
    assert moves(log_of(noise)) is False


def test_what_cannot_be_told() -> None:
    assert moves(log_of(np.arange(5.0))) is None
    assert moves(log_of(np.array([1.0] * 20 + [np.inf]))) is None
    assert moves(log_of(np.full(20, 5.0))) is False
    assert steady_from(log_of(np.arange(100.0))) is None


def test_where_the_warming_up_ends() -> None:
    """A ramp of an hour, then level: begins are tried a twentieth apart."""
    seconds = np.arange(0, 7200, 10.0)
    values = np.minimum(seconds / 3600, 1.0) + 0.01 * np.random.default_rng(1).standard_normal(len(seconds))
    found = steady_from(MeterLog("made", "V", seconds, values))
    assert found is not None
    assert 3240 <= found <= 4320
