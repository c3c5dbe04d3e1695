"""How often to log in which hours of a soak, and what each length would prove."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table
from kilter.planning.numbers import number, numbers
from kilter.planning.soak.proved import Bound, least_mtbf

MOST_HOURS = 10_000.0


@dataclass(frozen=True)
class Stage:
    """
    Hours with the same care.

    Args:
        key: Of it.
        words: What a person does.
        start, end: From switching on. [h]
        every: Between values. [min]
        values: That this makes.
    """

    key: str
    words: str
    start: float
    end: float
    every: float
    values: int


def stages(hours: float) -> tuple[Stage, ...]:
    """
    The stages of a soak of that length.

    Raises:
        OutOfRange: No such length.

    >>> [(one.key, one.start, one.end) for one in stages(10)]
    [('first', 0.0, 0.5), ('warm', 0.5, 4.0), ('day', 4.0, 10.0)]
    """
    if not 0 < hours <= MOST_HOURS:
        raise OutOfRange("Cannot plan a soak", f"{hours:g} h", f"above 0, up to {MOST_HOURS:.0f} h",
                         "Choose a length in hours.")  # fmt: skip
    found, start = [], 0.0
    for row in table("planning/soak")["stage"]:
        end = min(float(row["until"]), float(hours))
        if end > start:
            count = math.floor((end - start) * 60 / row["every"])
            found.append(Stage(row["key"], row["words"], start, end, float(row["every"]), count))
            start = end
    return tuple(found)


def proofs(hours: float, failures: int = 0, levels: Sequence[float] = ()) -> tuple[Bound, ...]:
    """What so many hours would prove, at the usual levels of confidence."""
    return tuple(Bound(one, least_mtbf(hours, failures, one)) for one in levels or numbers("soak", "confidence"))


def false_alarms(hours: float, channels: int) -> float:
    """
    False alarms to be expected of a steady object.

    >>> round(false_alarms(72, 6), 2)
    0.43
    """
    return hours * channels / number("soak", "false_alarm")
