"""
A competent person at the bench: rails first, then half-splitting along the signal flow, then the stage that is left.

A reading is good if it lies within three standard deviations, tolerances and meter together, of what healthy boards
show: an expert with a perfect service sheet. Between the last good point and the first bad one the middle is read
next. Around the first bad point the other voltages follow, nearest relatives first, then, with the power off, ohms
and diode readings in the same order.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence

import numpy as np
from cases import Plan

from kilter.measure.instruments import instrument
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.evidence_of import make_test
from kilter.simulate.chain import Chain

GOOD = 3.0
"""Standard deviations within which a reading is good."""

Order = Generator[Test, bool, None]
"""Tests in order; is told after each whether the reading was good."""


class HealthyBands:
    """What healthy boards show at every point of one plan."""

    def __init__(self, plan: Plan, chain: Chain) -> None:
        tests = plan.tests("voltage")
        found = chain.predict(plan.board, plan.state(powered=True), [frozenset()], tests)
        self._bands = {
            t.point: (float(m), float(s)) for t, m, s in zip(tests, found.mean[0], found.spread[0], strict=True)
        }

    def good(self, reading: Reading) -> bool:
        """Whether a voltage is within the band."""
        mean, spread = self._bands[reading.point]
        assert reading.value is not None
        meter = instrument(reading.instrument).standard_uncertainty("voltage", reading.value)
        return abs(reading.value - mean) <= GOOD * float(np.hypot(spread, meter))


class Expert:
    """
    One person on one object; where the fault was located is kept beside the order of tests.

    Args:
        plan: The board and its signal flow.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.located = ""
        self.readings_to_locate = 0

    def order(self) -> Order:
        """All tests, each as the readings before it decide."""
        read: list[str] = []
        yield from self._locate(read)
        self.readings_to_locate = len(read)
        near = _relatives(self.plan, self.located)
        yield from (self._test(point, "voltage") for point in near if point not in read)
        for point in near:
            yield self._test(point, "resistance")
            yield self._test(point, "diode")

    def _locate(self, read: list[str]) -> Order:
        for rail in self.plan.rails:
            read.append(rail)
            if not (yield self._test(rail, "voltage")):
                self.located = rail
                return
        flow, good, bad = self.plan.flow, -1, len(self.plan.flow)
        while bad - good > 1:
            middle = (good + bad) // 2
            read.append(flow[middle])
            if (yield self._test(flow[middle], "voltage")):
                good = middle
            else:
                bad = middle
        self.located = flow[min(bad, len(flow) - 1)]

    def _test(self, point: str, quantity: str) -> Test:
        return make_test(self.plan.board, point, quantity, self.plan.on if quantity == "voltage" else self.plan.off)

    def verdict(self, odds: dict[str, float]) -> list[str]:
        """Parts of the located stage, likeliest by prior odds first."""
        return sorted(self.plan.stages.get(self.located, ()), key=lambda part: (-odds.get(part, 0.0), part))


def _relatives(plan: Plan, point: str) -> Sequence[str]:
    """All points, those that share most parts with this one's stage first, then by distance along the flow."""
    order = [*plan.rails, *plan.flow]
    here, parts = order.index(point), set(plan.stages[point])
    rank: dict[str, tuple[int, int]] = {}
    for place, other in enumerate(order):
        shared = len(parts & set(plan.stages[other])) if other != point else len(order)
        rank[other] = (-shared, abs(place - here))
    return sorted(order, key=lambda other: rank[other])
