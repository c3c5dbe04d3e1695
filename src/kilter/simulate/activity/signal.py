"""A signal: what a line does, in every lane (hypothesis × tolerance sample) at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Codes = NDArray[np.int8]

LEVELS = ("low", "high", "pulsing", "floating", "between", "still", "unpowered")
"""'still' rests at a level that is not known; 'unpowered' comes out of something without supply."""
LOW, HIGH, PULSING, FLOATING, BETWEEN, STILL, UNPOWERED = range(len(LEVELS))

NAN = float("nan")


@dataclass(frozen=True, slots=True)
class Signal:
    """
    What a line does. Every field has a shape that broadcasts to (H, S); most are smaller.

    Args:
        level: Code into LEVELS.
        frequency: 0 where it does not move, NaN where it moves without a known period. [Hz]
        spread: Relative standard deviation of the frequency or, at rest, of the size.
        size: DC volts at rest, peak to peak while moving; NaN where not known. [V]
        value: Whole number that it stands for; NaN where it stands for none.
        doubt: Chance that it is not as said, and then could be anything.
    """

    level: Codes
    frequency: Floats
    spread: Floats
    size: Floats
    value: Floats
    doubt: Floats

    @property
    def moves(self) -> Mask:
        """Where it pulses."""
        return np.asarray(self.level == PULSING)

    def but(self, **changed: ArrayLike) -> Signal:
        """The same signal with some fields changed."""
        values: dict[str, Any] = {field.name: getattr(self, field.name) for field in fields(self)}
        return _made(**(values | changed))

    def doubted(self, doubt: ArrayLike) -> Signal:
        """The same signal with one more reason for doubt."""
        return self.but(doubt=any_doubt(self.doubt, doubt))


def rests(level: ArrayLike, *, size: ArrayLike = NAN, value: ArrayLike = NAN, spread: ArrayLike = 0.0) -> Signal:
    """A line that does not move."""
    return _made(level=level, frequency=0.0, spread=spread, size=size, value=value, doubt=0.0)


def pulses(frequency: ArrayLike = NAN, *, spread: ArrayLike = 0.0, size: ArrayLike = NAN) -> Signal:
    """A line that moves."""
    return _made(level=PULSING, frequency=frequency, spread=spread, size=size, value=NAN, doubt=0.0)


def unknown() -> Signal:
    """A line of which nothing is known."""
    return rests(STILL).but(doubt=1.0)


def choose(condition: ArrayLike, yes: Signal, no: Signal) -> Signal:
    """Lane by lane, one signal or the other."""
    chosen = {f.name: np.where(condition, getattr(yes, f.name), getattr(no, f.name)) for f in fields(Signal)}
    return _made(**chosen)


def any_doubt(*doubts: ArrayLike) -> Floats:
    """Chance that at least one of several independent doubts is justified."""
    sure = np.ones((1, 1))
    for doubt in doubts:
        sure = sure * (1.0 - np.asarray(doubt, np.float64))
    return 1.0 - sure


def stacked(signals: Sequence[Signal]) -> Signal:
    """Several signals as one with a leading axis, of shape (K, H, S) or smaller in the last two."""
    columns = {f.name: np.stack(np.broadcast_arrays(*(getattr(s, f.name) for s in signals))) for f in fields(Signal)}
    return Signal(**columns)


def differ(one: Signal, other: Signal, tolerance: float) -> Mask:
    """Where two signals say something different; two fully doubtful ones never do."""
    apart = np.asarray(one.level != other.level)
    for name in ("frequency", "size", "value", "doubt", "spread"):
        a, b = getattr(one, name), getattr(other, name)
        apart = apart | ~np.isclose(a, b, rtol=tolerance, atol=tolerance, equal_nan=True)
    return np.asarray(apart & ~((one.doubt >= 1.0) & (other.doubt >= 1.0)))


def _made(**values: ArrayLike) -> Signal:
    made: dict[str, Any] = {name: np.asarray(value, _KINDS.get(name, np.float64)) for name, value in values.items()}
    return Signal(**{name: array if array.ndim == 2 else np.atleast_2d(array) for name, array in made.items()})


_KINDS: dict[str, Any] = {"level": np.int8}
