"""Read live: one value as a reading, or a log of values that loses nothing when the instrument falls silent."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Protocol

from kilter.measure.errors import BadInput
from kilter.measure.instruments import instrument
from kilter.measure.quantities import quantity
from kilter.records.reading import Reading


class Source(Protocol):
    """Something that answers with one number; kilter.live.connection.Connection is one."""

    def ask_number(self, question: str) -> float:
        """The number; BadInput where there is none."""


@dataclass(frozen=True)
class Logged:
    """One entry of a log: time (ISO 8601, UTC), quantity, value (None where there was no answer), unit, note."""

    time: str
    quantity: str
    value: float | None
    unit: str
    note: str = ""


def utc_now() -> str:
    """The time now, ISO 8601, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def read_value(
    source: Source, question: str, *, point: str, quantity_key: str, state: str, instrument_key: str = "",
    now: Callable[[], str] = utc_now, who: str = "",
) -> Reading:  # fmt: skip
    """
    One value of an instrument as a reading, with the uncertainty of its class.

    Args:
        source: The instrument.
        question: That it is asked.
        point: Where its leads are, a point of the board.
        quantity_key: What it reads.
        state: The state of the object.
        instrument_key: Its class; '' takes the usual one of the quantity.
        now: The clock.
        who: Who took it.

    Raises:
        BadInput: No answer, or a class that does not read that quantity.
    """
    what = quantity(quantity_key)
    tool = instrument(instrument_key or what.default_instrument)
    value = source.ask_number(question)
    spread = tool.standard_uncertainty(what.key, value) if math.isfinite(value) else 0.0
    return Reading(point=point, quantity=what.key, value=value, uncertainty=spread, state=state, instrument=tool.key,
                   time=now(), who=who, note="read live", place=f"live, '{question}'")  # fmt: skip


def log_values(
    source: Source,
    questions: Mapping[str, str],
    keep: Callable[[Logged], None],
    *,
    entries: int,
    every_s: float,
    wait: Callable[[float], None],
    tries: int,
    now: Callable[[], str] = utc_now,
) -> int:
    """
    Asks again and again; every answer, and every silence, is kept before the next question.

    Args:
        source: The instrument.
        questions: Quantity to question.
        keep: Keeps one entry for good.
        entries: Rounds.
        every_s: Pause between rounds. [s]
        wait: Waits so many seconds.
        tries: Rounds in a row without any answer after which it stops.
        now: The clock.

    Returns:
        Number of values read.

    Raises:
        BadInput: The instrument gave no answer so many times in a row; what was read before is kept.
    """
    read = silent = 0
    for number in range(entries):
        if number:
            wait(every_s)
        found, error = _round(source, questions, keep, now)
        read += found
        silent = 0 if found else silent + 1
        if error is not None and silent >= tries:
            raise BadInput(error.doing, f"{error.found}; {tries} times in a row, after {read} values",
                           error.allowed, f"The {read} values are kept. {error.do_next}") from None  # fmt: skip
    return read


def _round(
    source: Source, questions: Mapping[str, str], keep: Callable[[Logged], None], now: Callable[[], str]
) -> tuple[int, BadInput | None]:
    """Each question once: how many were answered, and the last failure."""
    read, failed = 0, None
    for key, question in questions.items():
        unit = quantity(key).unit
        try:
            value = source.ask_number(question)
        except BadInput as error:
            failed = error
            keep(Logged(now(), key, None, unit, f"no value: {error.found}"))
            continue
        keep(Logged(now(), key, value, unit))
        read += 1
    return read, failed
