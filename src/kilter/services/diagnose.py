"""Diagnose: from a board and what was read to suspects, ties and the next test. This is what Kilter is for."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from kilter.circuit.board import Board
from kilter.diagnose.ask import Advice, ask
from kilter.diagnose.ask import open_tests as offerable
from kilter.diagnose.cost import Bench, Effort
from kilter.diagnose.enumerate import Limits, quick_limits, search
from kilter.diagnose.evidence import Candidate, Evidence
from kilter.diagnose.expect import Expected, expect
from kilter.diagnose.explain import Reason, Unexplained, explain_all, unexplained
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.priors import Priors, priors_of
from kilter.diagnose.rows import Predict, Remembered
from kilter.diagnose.settings import setting
from kilter.diagnose.stop import Decision, decide, repairs_of
from kilter.diagnose.ties import ties
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.evidence_of import evidence_of
from kilter.services.open_tests import NOTHING_WRONG, Reach
from kilter.services.visit_states import Visit, follow
from kilter.simulate.chain import Chain, usual_chain
from kilter.simulate.prediction import Fault, Hypothesis, Prediction

Read = TypeVar("Read", Evidence, Candidate)

LOG_NEVER = float(np.log(np.finfo(float).tiny))
"""Log chance at which the weigher puts what cannot happen."""

POWER_CHECKS = "power checks"
"""Name of the checks without which no powered test is offered."""


@dataclass(frozen=True)
class Suspect:
    """A part with the probability that it is faulty now, its modes, and what each reading says about it."""

    part: str
    probability: float
    modes: tuple[tuple[str, float], ...]
    because: tuple[Reason, ...]


@dataclass(frozen=True)
class Diagnosis:
    """
    Everything one look at the readings tells.

    Args:
        visit: Board and readings as they were weighed.
        posterior: Every visited hypothesis with its weight.
        suspects: Parts worth naming, likeliest first.
        ties: Groups of parts that no open test can tell apart.
        advice: Tests to do next, best first.
        decision: Test, act or leave, with the numbers.
        unexplained: Readings that the leading explanations do not account for.
        fallback_lanes: Circuit lanes that ngspice answered.
        unsettled: Circuit lanes that nobody could answer.
        expected: The mixture behind advice and decision: what the leading fault sets expect of each open test.
    """

    visit: Visit
    posterior: Posterior
    suspects: tuple[Suspect, ...]
    ties: tuple[tuple[str, ...], ...]
    advice: tuple[Advice, ...]
    decision: Decision
    unexplained: tuple[Unexplained, ...]
    fallback_lanes: int
    unsettled: int
    expected: Expected


@dataclass
class Diagnoser:
    """
    Weighs and asks for one board; it remembers the circuits it solved, so a visit that grows by a reading costs less.

    Args:
        board: With its history.
        chain: The predictors; the usual ones unless given.
        at_hand: Instruments that there are; none named means the usual ones.
        power_checks: Whether the checks before switching on are passed, so that powered tests may be offered. A visit
            with powered readings has them behind it.
        limits: How far the search for fault sets goes, and how many of them the asker works on; unless given, less far
            on a board with a circuit, where every fault set is a circuit to solve.
        known_good: Parts that somebody vouches for.
        evidence: Log likelihood ratio of faults, against healthy, from elsewhere: a memory's dump.
        not_working: Somebody saw that the object does not do its work, so 'nothing wrong' is hardly an explanation.
        odds: Chance of faults where failure counts moved it.
        effort: What tests, other states and repairs take at this bench, where it was learned.
        two_steps: Look two steps deep for the best tests.
        outside: Prior of 'not in the model'; None takes the setting. With 0 the model is believed to hold every fault.
        gross: Chance that a reading is grossly wrong, whatever its instrument and whoever doubts it; None takes what
            those say. With 0 every reading is believed, and readings that no fault set explains are refused.
    """

    board: Board
    chain: Chain | None = None
    at_hand: Sequence[str] = ()
    power_checks: bool = False
    limits: Limits | None = None
    known_good: Sequence[str] = ()
    evidence: Mapping[Fault, float] = field(default_factory=dict)
    not_working: bool = False
    odds: Mapping[Fault, float] = field(default_factory=dict)
    effort: Effort = field(default_factory=Effort)
    two_steps: bool = True
    outside: float | None = None
    gross: float | None = None
    _lanes: list[int] = field(default_factory=lambda: [0, 0])
    _reach: Reach = field(init=False)

    def __post_init__(self) -> None:
        self.chain = self.chain or usual_chain(self.board)
        self._reach = Reach(self.chain)
        self.limits = self.limits or (quick_limits() if self.board.elements else Limits())

    def diagnose(self, readings: Iterable[Reading]) -> Diagnosis:
        """
        The diagnosis after all these readings.

        Raises:
            BadInput: A reading that nothing on this board predicts, or readings that cannot all be true.
        """
        return self._conclude(*self._weighed(readings))

    def posterior(self, readings: Iterable[Reading]) -> Posterior:
        """
        What is believed after all these readings, without reasons, advice or decision: a small part of the work.

        Raises:
            BadInput: As `diagnose`.
        """
        return self._weighed(readings)[-1]

    def _weighed(self, readings: Iterable[Reading]) -> tuple[Visit, list[Evidence], Predict, Posterior]:
        visit = follow(self.board, readings)
        evidence = self._believed([evidence_of(visit.board, reading) for reading in visit.readings])
        predict = self._predict(visit, [one.test for one in evidence])
        posterior = search(predict, self._priors(visit), evidence, limits=self.limits, renewed=visit.deeds.renewed)
        _refuse_impossible(posterior, evidence)
        return visit, evidence, predict, posterior

    def _believed(self, readings: Sequence[Read]) -> list[Read]:
        """Readings or tests with the chance of a gross error that was asked for."""
        return list(readings) if self.gross is None else [replace(one, outlier=self.gross) for one in readings]

    def _priors(self, visit: Visit) -> Priors:
        history = visit.board.history
        return priors_of(
            visit.board,
            seen=history.seen,
            labels=history.labels,
            known_good=self.known_good,
            log_factors=self.evidence,
            outside=self.outside,
            not_working=self.not_working,
            odds=self.odds,
        )

    def _conclude(
        self, visit: Visit, evidence: Sequence[Evidence], predict: Predict, posterior: Posterior
    ) -> Diagnosis:
        leaders = [part for part, share in posterior.parts().items() if share >= setting("leader")]
        bench = self._bench(visit)
        reachable = self._reach.open_tests(visit, at_hand=self.at_hand, parts=leaders)
        tests = [self._paced(test) for test in reachable if bench.allows(test)]
        both = self._predict(visit, [*(one.test for one in evidence), *tests])
        both([*self._asked_about(posterior), NOTHING_WRONG])  # all in one go; what follows is remembered
        possible = self._believed(self._reach.candidates(visit.board, both, tests))
        offered = offerable(posterior, evidence, possible, bench)
        expected = expect(posterior, both, evidence, offered, self.limits)
        advice = ask(posterior, expected, evidence, bench, two_steps=self.two_steps)
        groups = ties(posterior, expected)
        because = explain_all(posterior, predict, evidence, leaders)
        return Diagnosis(
            visit=visit,
            posterior=posterior,
            suspects=_suspects(posterior, because),
            ties=groups,
            advice=advice,
            decision=decide(posterior, expected, advice, repairs_of(visit.board, self.effort.repairs), groups),
            unexplained=unexplained(posterior, evidence),
            fallback_lanes=self._lanes[0],
            unsettled=self._lanes[1],
            expected=expected,
        )

    def _paced(self, test: Test) -> Test:
        return replace(test, minutes=test.minutes * self.effort.readings.get(test.quantity, 1.0))

    def _asked_about(self, posterior: Posterior) -> list[Hypothesis]:
        assert self.limits is not None
        rows = posterior.leading(self.limits.pruned_mass, self.limits.asker_hypotheses)
        return [posterior.hypotheses[row] for row in rows]

    def _bench(self, visit: Visit) -> Bench:
        powered = any(visit.board.states[one.state].powered for one in visit.readings)
        passed = frozenset({POWER_CHECKS}) if powered or self.power_checks else frozenset()
        setup = dict.fromkeys(visit.board.states, setting("setup") * self.effort.setup)
        return Bench(state=visit.readings[-1].state if visit.readings else "", passed=passed, setup=setup)

    def _predict(self, visit: Visit, tests: Sequence[Test]) -> Predict:
        """A remembered predictor of these tests, state by state."""
        by_state: dict[str, dict[Test, None]] = {}
        for test in tests:
            by_state.setdefault(test.state, {})[test] = None
        by_state = by_state or {next(iter(visit.board.states)): {}}

        def in_state(key: Hashable, hypotheses: Sequence[Hypothesis]) -> Prediction:
            assert self.chain is not None
            state = visit.board.states[str(key)]
            found = self.chain.predict(visit.board, state, hypotheses, list(by_state[state.name]))
            self._lanes[0] = max(self._lanes[0], found.fallback_lanes)
            self._lanes[1] = max(self._lanes[1], found.unsettled)
            return found

        return Remembered(in_state, sorted(by_state))


def _suspects(posterior: Posterior, because: Mapping[str, tuple[Reason, ...]]) -> tuple[Suspect, ...]:
    modes: dict[str, list[tuple[str, float]]] = {}
    for (part, mode), share in posterior.modes().items():
        modes.setdefault(part, []).append((mode, share))
    shares = posterior.parts()
    return tuple(Suspect(part, shares[part], tuple(modes[part]), reasons) for part, reasons in because.items())


def _refuse_impossible(posterior: Posterior, evidence: Sequence[Evidence]) -> None:
    """Weights say nothing where every fault set has a reading that it cannot give and that cannot be wrong either."""
    never = (posterior.log_single <= LOG_NEVER) & np.array([one.gross == 0.0 for one in evidence], np.bool_)
    if posterior.not_in_model > 0.0 or not never.any(axis=1).all():
        return
    read = ", ".join(f"{one.test.quantity} at {one.test.point}" for one in evidence)
    raise BadInput(
        f"Cannot explain the readings {read}", f"none of {len(never)} fault sets that could give them all",
        "readings that some fault set can give, or a chance above 0 of gross errors and of faults not in the model",
        "Leave 'gross' and 'outside' as the settings have them.",
    )  # fmt: skip


def diagnose(board: Board, readings: Iterable[Reading], **choices: object) -> Diagnosis:
    """One diagnosis with the usual predictors; `choices` are those of `Diagnoser`."""
    return Diagnoser(board, **choices).diagnose(readings)  # type: ignore[arg-type]
