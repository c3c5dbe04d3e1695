"""
Learn how long work takes at a bench, from the times of a visit's entries: readings, changes of state, repairs.

Minutes are what tests and repairs cost (kilter.diagnose.cost), so a bench that is quick with one test is offered it
sooner. An entry's time tells when somebody typed; long gaps are pauses and left out, and what is learned is kept near
what Kilter comes with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise

from kilter.circuit.board import Board
from kilter.diagnose.cost import Effort
from kilter.diagnose.settings import setting, settings
from kilter.diagnose.stop import repair_case
from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.services.visit_log import READ, Entry, VisitLog

SETUP, REPAIR = "change of state", "replacing a part, "
RENEWED = "renewed"


@dataclass(frozen=True)
class Times:
    """
    Minutes that work took.

    Args:
        readings: By quantity, in the state of the reading before. [min]
        setups: Of bringing the object into another state, the usual minutes of the reading taken off. [min]
        repairs: From the entry before to that of the renewed part, by case: 'socketed', 'later', 'original'. [min]
    """

    readings: Mapping[str, Sequence[float]] = field(default_factory=dict)
    setups: Sequence[float] = ()
    repairs: Mapping[str, Sequence[float]] = field(default_factory=dict)


def times_of(board: Board, log: VisitLog) -> Times:
    """What the entries of a visit that stand say about time; the first says nothing."""
    readings: dict[str, list[float]] = {}
    setups: list[float] = []
    repairs: dict[str, list[float]] = {}
    for before, after in pairwise(log.standing()):
        one, earlier = after.reading, before.reading
        gap = _gap(before, after)
        if after.kind != READ or one is None or gap is None:
            continue
        if after.deed:
            if one.word == RENEWED and one.point in board.parts and gap <= _number("longest_repair"):
                repairs.setdefault(repair_case(board.parts[one.point]), []).append(gap)
        elif earlier is not None and not before.deed and gap <= _number("longest_pause"):
            if one.state == earlier.state:
                readings.setdefault(one.quantity, []).append(gap)
            else:
                setups.append(max(gap - quantity(one.quantity).minutes, 0.0))
    return Times(dict(sorted(readings.items())), setups, dict(sorted(repairs.items())))


def together(times: Sequence[Times]) -> Times:
    """The times of several visits."""
    return Times(
        _joined([one.readings for one in times]),
        [minutes for one in times for minutes in one.setups],
        _joined([one.repairs for one in times]),
    )


@dataclass(frozen=True)
class Pace:
    """
    What a kind of work takes at this bench.

    Args:
        what: Key of the quantity, or SETUP, or REPAIR and the case.
        usual: Minutes that Kilter comes with.
        minutes: Learned: the mean of the usual ones and of those taken, by their weights.
        times: How many times were known.
    """

    what: str
    usual: float
    minutes: float
    times: int

    @property
    def factor(self) -> float:
        """Learned minutes as a share of the usual ones, within limits."""
        low, high = table("learning/times")["pace_limits"]["value"]
        return float(min(max(self.minutes / self.usual, low), high))


def paces(times: Times) -> tuple[Pace, ...]:
    """
    Learned minutes of all work whose times are known.

    >>> [one.minutes for one in paces(Times({"voltage": [quantity("voltage").minutes] * 4}))]
    [1.0]
    """
    found = [_pace(key, quantity(key).minutes, taken, "readings") for key, taken in sorted(times.readings.items())]
    found.append(_pace(SETUP, setting("setup"), times.setups, "setups"))
    for case, usual in settings("repair_minutes").items():
        found.append(_pace(REPAIR + case, float(usual), times.repairs.get(case, ()), "repairs"))
    return tuple(one for one in found if one.times and one.usual > 0)


def effort_of(times: Times) -> Effort:
    """What the diagnosis is told about this bench."""
    by_name = {one.what: one.factor for one in paces(times)}
    return Effort(
        {key: by_name[key] for key in times.readings if key in by_name},
        by_name.get(SETUP, 1.0),
        {case: by_name[REPAIR + case] for case in times.repairs if REPAIR + case in by_name},
    )


def _pace(what: str, usual: float, taken: Sequence[float], weighed_as: str) -> Pace:
    weight = _number(f"prior_{weighed_as}")
    return Pace(what, usual, (weight * usual + sum(taken)) / (weight + len(taken)), len(taken))


def _joined(tables: Sequence[Mapping[str, Sequence[float]]]) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for one in tables:
        for key, minutes in one.items():
            found.setdefault(key, []).extend(minutes)
    return found


def _gap(before: Entry, after: Entry) -> float | None:
    """Minutes between two entries; None where a time is missing or does not go forward."""
    try:
        gap = (datetime.fromisoformat(after.time) - datetime.fromisoformat(before.time)).total_seconds() / 60.0
    except (ValueError, TypeError):
        return None
    return gap if gap > 0 else None


def _number(key: str) -> float:
    return float(table("learning/times")[key]["value"])
