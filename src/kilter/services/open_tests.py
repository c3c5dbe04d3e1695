"""The tests that could be done next: every point, quantity and state of the object as it stands now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from kilter.circuit.board import Board
from kilter.diagnose.evidence import Candidate, columns, key_of
from kilter.diagnose.rows import Predict
from kilter.measure.quantities import quantities, quantity
from kilter.measure.scales import from_scale
from kilter.records.test import Test
from kilter.services.evidence_of import candidate_of, make_test
from kilter.services.visit_states import Visit
from kilter.simulate.chain import Chain

NOTHING_WRONG: frozenset[tuple[str, str]] = frozenset()


class Reach:
    """
    The tests within reach on one board, remembered: a visit asks for nearly the same ones after every reading.

    Args:
        chain: The predictors.
    """

    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self._of: Board | None = None
        self._tests: dict[tuple[str, str, str], Test | None] = {}
        self._candidates: dict[tuple[Test, float], Candidate] = {}

    def open_tests(self, visit: Visit, *, at_hand: Sequence[str] = (), parts: Iterable[str] = ()) -> list[Test]:
        """
        Everything that a predictor can answer and a hand can reach.

        Args:
            visit: Its board and what has been done to the object.
            at_hand: Instruments that there are; none named means all that the quantities usually want.
            parts: Parts worth looking at and touching; looking at all of a large board would drown the rest.
        """
        board, found = visit.board, []
        self._keep_to(board)
        kinds = [q for q in quantities().values() if q.key != "done"]
        kinds = [q for q in kinds if not at_hand or q.default_instrument in at_hand]
        for state in (one for one in visit.states_now() if one.offered):
            places = [name for name, point in board.points.items() if point.reachable]
            places += [*(e.name for e in board.elements.values() if e.kind == "V"), *parts]
            for what in kinds:
                if what.powered is None or what.powered == state.powered:
                    tests = (self._test(board, place, what.key, state.name) for place in places)
                    found += [test for test in tests if test is not None]
        return found

    def candidates(self, board: Board, predict: Predict, tests: Sequence[Test]) -> list[Candidate]:
        """The tests with the uncertainty that their instruments have at what a healthy board would read."""
        self._keep_to(board)
        predictions = predict([NOTHING_WRONG])
        where = columns(predictions)
        found = []
        for test in tests:
            group, column = where[key_of(test)]
            mean = float(predictions[group].mean[0, column])
            known = quantity(test.quantity).numeric and np.isfinite(mean)
            key = (test, mean if known else 0.0)
            if key not in self._candidates:
                expected = float(from_scale(test.quantity, mean)) if known else 0.0
                self._candidates[key] = candidate_of(board, test, expected)
            found.append(self._candidates[key])
        return found

    def _test(self, board: Board, place: str, quantity_key: str, state: str) -> Test | None:
        """The test there, None where nobody can answer it."""
        key = (place, quantity_key, state)
        if key not in self._tests:
            test = make_test(board, place, quantity_key, state)
            self._tests[key] = test if self.chain.answers(board, test) else None
        return self._tests[key]

    def _keep_to(self, board: Board) -> None:
        """Forgets what was said of a board of other parts or points; the states of a visit are told by their names."""
        before = self._of
        if before is None or not _same_places(before, board):
            self._of = board
            self._tests.clear()
            self._candidates.clear()


def _same_places(one: Board, other: Board) -> bool:
    same = one.elements is other.elements and one.parts is other.parts and one.blocks is other.blocks
    return same and one.points.keys() == other.points.keys()


def open_tests(visit: Visit, chain: Chain, *, at_hand: Sequence[str] = (), parts: Iterable[str] = ()) -> list[Test]:
    """The tests within reach, as `Reach.open_tests` gives them, of a board that is asked about once."""
    return Reach(chain).open_tests(visit, at_hand=at_hand, parts=parts)
