"""
The loop: a reading, a diagnosis, the next test, until the stop rule says so.

All ways of asking use the same weigher and the same stop rule and get the same readings; they differ only in which test
comes next.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from cases import Case
from expert import Expert, HealthyBands

from kilter.diagnose.cost import Bench
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.diagnose import POWER_CHECKS, Diagnoser, Diagnosis

MOST_TESTS = 25
CONFIDENT = 0.95

Choose = Callable[[Diagnosis, list[Reading]], Test | None]
"""The next test; None where there is none left."""


@dataclass(frozen=True)
class Outcome:
    """
    How one object went with one way of asking.

    Args:
        board: Name of the plan.
        number: Of the case.
        faults: What was wrong.
        way: 'advice', 'random', 'half-splitting' or 'half-splitting alone'.
        tests: Readings after the first, which is given.
        minutes, cost: Of those, by the bench's rules. [min]
        action: What the stop rule ended with, 'cap' where it never did.
        ranking: Suspects in order; tied ones in one group.
        probability: Of the part ranked first.
        healthy, outside: Probability of 'nothing wrong' and of 'not in the model'.
        rank: Place of the best-placed faulty part in the ranking, by groups; 0 where it is not there.
        all_found: Whether the groups at the head, as many as there are faults, hold all faulty parts.
        gross: Grossly wrong readings among those taken.
        readings: What was read, for the curious.
    """

    board: str
    number: int
    faults: tuple[tuple[str, str], ...]
    way: str
    tests: int
    minutes: float
    cost: float
    action: str
    ranking: tuple[tuple[str, ...], ...]
    probability: float
    healthy: float
    outside: float
    rank: int
    all_found: bool
    gross: int
    readings: tuple[str, ...] = field(default=())

    @property
    def right(self) -> bool:
        """A faulty part is first, or tied with the first."""
        return self.rank == 1

    @property
    def tied(self) -> bool:
        """The first place is shared."""
        return bool(self.ranking) and len(self.ranking[0]) > 1

    @property
    def confident_and_wrong(self) -> bool:
        """More than CONFIDENT on a part that is good, or on 'nothing wrong'."""
        return self.healthy > CONFIDENT or (self.probability > CONFIDENT and not self.right)


def follow(case: Case, diagnoser: Diagnoser, way: str, choose: Choose, *, most: int = MOST_TESTS) -> Outcome:
    """Asks until the stop rule ends it, no test is left or there were too many."""
    bench, spent = replace(case.bench, _times={}, gross_readings=0), np.zeros(2)
    plan = case.plan
    readings = [bench.read(plan.first(), plan.state(powered=True), plan.on)]
    while True:
        diagnosis = diagnoser.diagnose(readings)
        taken = len(readings) - 1
        test = choose(diagnosis, readings) if diagnosis.decision.action == "test" and taken < most else None
        if test is None:
            action = "cap" if diagnosis.decision.action == "test" else diagnosis.decision.action
            return _outcome(case, way, diagnosis, action, spent, bench.gross_readings, readings)
        state = diagnosis.visit.board.states[test.state]
        spent += _price(test, readings)
        readings.append(bench.read(test, state, diagnosis.visit.plain[test.state]))


def advised(diagnosis: Diagnosis, _: list[Reading]) -> Test | None:
    """What the asker puts first."""
    return diagnosis.advice[0].test if diagnosis.advice else None


def at_random(seed: tuple[int, ...]) -> Choose:
    """Any test that is open and promises anything at all."""
    random = np.random.default_rng(seed)

    def choose(diagnosis: Diagnosis, _: list[Reading]) -> Test | None:
        tests = sorted((one.test for one in diagnosis.advice), key=lambda t: (t.point, t.quantity, t.state))
        return tests[int(random.integers(len(tests)))] if tests else None

    return choose


def by_expert(expert: Expert, bands: HealthyBands) -> Choose:
    """What a competent person would read next."""
    order, started = expert.order(), False

    def choose(_: Diagnosis, readings: list[Reading]) -> Test | None:
        nonlocal started
        try:
            if not started:
                started = True
                return next(order)
            last = readings[-1]
            return order.send(bands.good(last) if last.quantity == "voltage" else True)
        except StopIteration:
            return None

    return choose


def alone(case: Case, expert: Expert, bands: HealthyBands, odds: dict[str, float]) -> Outcome:
    """The expert without any weigher: half-splitting to the end, then the stage's parts by their prior odds."""
    bench, spent = replace(case.bench, _times={}, gross_readings=0), np.zeros(2)
    readings = [bench.read(case.plan.first(), case.plan.state(powered=True), case.plan.on)]
    order = expert.order()
    test = next(order)
    while True:
        spent += _price(test, readings)
        readings.append(bench.read(test, case.plan.board.states[test.state], test.state))
        test = order.send(bands.good(readings[-1]))
        if expert.located:
            break
    ranking = tuple((part,) for part in expert.verdict(odds))
    rank, found = _place(case, ranking)
    return Outcome(
        case.plan.name, case.number, tuple(sorted(case.bench.faults)), "half-splitting alone", len(readings) - 1,
        float(spent[0]), float(spent[1]), "act", ranking, 0.0, 0.0, 0.0, rank, found, bench.gross_readings,
    )  # fmt: skip


def _price(test: Test, readings: list[Reading]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    bench = Bench(state=readings[-1].state, passed=frozenset({POWER_CHECKS}))
    return np.array([bench.minutes(test), bench.cost(test)])


def _outcome(
    case: Case,
    way: str,
    diagnosis: Diagnosis,
    action: str,
    spent: np.ndarray[tuple[int], np.dtype[np.float64]],
    gross: int,
    readings: list[Reading],
) -> Outcome:
    ranking = _groups(diagnosis)
    rank, found = _place(case, ranking)
    posterior = diagnosis.posterior
    return Outcome(
        board=case.plan.name,
        number=case.number,
        faults=tuple(sorted(case.bench.faults)),
        way=way,
        tests=len(readings) - 1,
        minutes=float(spent[0]),
        cost=float(spent[1]),
        action=action,
        ranking=ranking,
        probability=diagnosis.suspects[0].probability if diagnosis.suspects else 0.0,
        healthy=posterior.healthy,
        outside=posterior.not_in_model,
        rank=rank,
        all_found=found,
        gross=gross,
        readings=tuple(f"{r.point} {r.quantity} {r.state} {r.value:.4g}" for r in readings if r.value is not None),
    )


def _groups(diagnosis: Diagnosis) -> tuple[tuple[str, ...], ...]:
    """Suspects in order, each tie as one group in the place of its first."""
    groups: list[tuple[str, ...]] = []
    for suspect in diagnosis.suspects:
        if any(suspect.part in group for group in groups):
            continue
        groups.append(next((group for group in diagnosis.ties if suspect.part in group), (suspect.part,)))
    return tuple(groups)


def _place(case: Case, ranking: tuple[tuple[str, ...], ...]) -> tuple[int, bool]:
    ranks = [place for place, group in enumerate(ranking, 1) if case.parts & set(group)]
    head = {part for group in ranking[: len(case.parts)] for part in group}
    return (ranks[0] if ranks else 0), case.parts <= head
