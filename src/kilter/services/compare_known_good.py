"""Compare an object with known-good boards of its type, reading by reading."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.measure.measured import engineering
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale, scaled_uncertainty, to_scale
from kilter.measure.student import coverage_factor
from kilter.measure.uncertainty import effective_dof
from kilter.records.reading import Reading
from kilter.simulate.reference.figures import number
from kilter.simulate.reference.known_good import Key, KnownGood, known_good

AS_GOOD, OFF, FAR_OFF, NOT_READ, NOT_KNOWN = "as known-good", "off", "far off", "not read here", "no known-good"
MARKED = (OFF, FAR_OFF)


@dataclass(frozen=True)
class Row:
    """
    One place, quantity and state.

    Args:
        key: Of it.
        reading: Of the object; None where it was not read.
        good: Readings of the known-good boards. [the quantity's unit]
        low: Lower end of the interval in which a healthy board reads 95 times in 100, NaN for none. [unit]
        high: Its upper end. [unit]
        words: Chance of each word on a healthy board, for words.
        boards: Known-good boards behind it.
        ratio: Distance from their mean over the half-width of that interval once the uncertainty of the object's
            reading is added; NaN for none. From 1 on the reading is marked.
        verdict: One of the words above.
    """

    key: Key
    reading: Reading | None
    good: tuple[float, ...]
    low: float
    high: float
    words: dict[str, float]
    boards: int
    ratio: float
    verdict: str


@dataclass(frozen=True)
class Comparison:
    """
    All rows, the readings of the object first.

    Args:
        rows: In the order in which the object was read, then what was read on known-good boards only.
        known: What the known-good boards tell, for the predictors.
        by_chance: How many rows of a healthy object would be marked by chance alone.
    """

    rows: tuple[Row, ...]
    known: KnownGood
    by_chance: float


def compare_known_good(readings: Iterable[Reading], boards: Sequence[Iterable[Reading]]) -> Comparison:
    """
    The readings of an object beside those of one or more known-good boards.

    Args:
        readings: Of the object, as it came: what was read after something was done to it is compared as well.
        boards: Readings of each known-good board.

    Raises:
        BadInput: There is no reading of a known-good board, or one that cannot be used.
    """
    known = known_good(boards)
    own = [one for one in readings if one.quantity != "done"]
    rows = [_row((one.point, one.quantity, one.state), one, known) for one in own]
    seen = {row.key for row in rows}
    rows += [_row(key, None, known) for key in (*known.numbers, *known.words) if key not in seen]
    judged = sum(row.verdict in (AS_GOOD, *MARKED) for row in rows)
    return Comparison(tuple(rows), known, judged * (1 - number("off")))


def _row(key: Key, reading: Reading | None, known: KnownGood) -> Row:
    if key not in known:
        return Row(key, reading, (), math.nan, math.nan, {}, 0, math.nan, NOT_KNOWN)
    return _words(key, reading, known) if key in known.words else _numbers(key, reading, known)


def _words(key: Key, reading: Reading | None, known: KnownGood) -> Row:
    """A word is off where no known-good board gave it."""
    there = known.words[key]
    seen = reading is not None and reading.word in there.said
    verdict = NOT_READ if reading is None else AS_GOOD if seen else OFF
    return Row(key, reading, (), math.nan, math.nan, dict(there.chances), there.boards, math.nan, verdict)


def _numbers(key: Key, reading: Reading | None, known: KnownGood) -> Row:
    there, what = known.numbers[key], key[1]
    noise, value = 0.0, math.nan
    if reading is not None and reading.value is not None:
        noise = float(scaled_uncertainty(what, reading.value, reading.uncertainty))
        value = float(to_scale(what, np.array(reading.value)))
    scale = math.hypot(there.scale, noise)
    dof = effective_dof([there.scale, noise], [there.dof, math.inf])
    half, far = (coverage_factor(dof, number(level)) * scale for level in ("off", "far_off"))
    healthy = coverage_factor(there.dof, number("off")) * there.scale
    low, high = (float(from_scale(what, there.mean + side * healthy)) for side in (-1, 1))
    away = abs(value - there.mean)
    verdict = NOT_READ if math.isnan(value) else FAR_OFF if away > far else OFF if away > half else AS_GOOD
    good = tuple(float(from_scale(what, one)) for one in known.values[key])
    return Row(key, reading, good, low, high, {}, there.boards, away / half, verdict)


def interval_words(row: Row) -> str:
    """What a healthy board reads, for people."""
    if row.words:
        return ", ".join(
            f"{word} {share:.0%}" for word, share in sorted(row.words.items(), key=lambda one: -one[1])[:2]
        )
    if math.isnan(row.low):
        return "not known"
    unit = quantity(row.key[1]).unit
    return f"{engineering(row.low, unit)} to {engineering(row.high, unit)}"
