"""What a test costs: minutes, the worth of the intervention and of its risks, and which tests are never offered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kilter.diagnose.settings import setting, settings
from kilter.records.test import Test


@dataclass(frozen=True)
class Effort:
    """
    What work takes at this bench, as factors on the usual minutes; 1 where nothing was learned.

    Args:
        readings: By quantity.
        setup: Of bringing the object into another state.
        repairs: Of replacing a part, by case: 'socketed', 'later' or 'original'.
    """

    readings: Mapping[str, float] = field(default_factory=dict)
    setup: float = 1.0
    repairs: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Bench:
    """
    How things stand at the bench.

    Args:
        state: State the object is in now, '' where it does not matter.
        passed: Names of the checks that were passed, such as 'power checks'.
        setup: Minutes to bring the object into a state, by its name; the setting where it is not named.
        highest_grade: Tests of a higher grade are not offered.
    """

    state: str = ""
    passed: frozenset[str] = frozenset()
    setup: Mapping[str, float] = field(default_factory=dict)
    highest_grade: int = 6

    def minutes(self, test: Test) -> float:
        """Time for the test, with the change of state where one is needed. [min]"""
        change = self.setup.get(test.state, setting("setup")) if self.state and test.state != self.state else 0.0
        return test.minutes + change

    def cost(self, test: Test) -> float:
        """Time with the worth of the intervention and of its risks added. [min]"""
        risk = test.risk_object * setting("risk_object_cost") + test.risk_person * setting("risk_person_cost")
        return self.minutes(test) + grade_cost(test.grade) + risk

    def allows(self, test: Test) -> bool:
        """
        Whether the test may be offered at all. This comes before any weighing of gain against cost.

        >>> Bench().allows(Test("TP1", "voltage", "on", needs=("power checks",)))
        False
        """
        return (
            set(test.needs) <= self.passed
            and test.grade <= self.highest_grade
            and test.risk_object <= setting("risk_object_limit")
            and test.risk_person <= setting("risk_person_limit")
        )


def grade_cost(grade: int) -> float:
    """Worth of an intervention by its grade. [min]"""
    table = settings("grade_cost")
    return float(table[min(max(grade, 0), len(table) - 1)])
