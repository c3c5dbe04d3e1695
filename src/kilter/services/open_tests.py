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


def open_tests(visit: Visit, chain: Chain, *, at_hand: Sequence[str] = (), parts: Iterable[str] = ()) -> list[Test]:
    """
    Everything that a predictor can answer and a hand can reach.

    Args:
        visit: Its board and what has been done to the object.
        chain: The predictors.
        at_hand: Instruments that there are; none named means all that the quantities usually want.
        parts: Parts worth looking at and touching; looking at all of a large board would drown the rest.
    """
    board, found = visit.board, []
    kinds = [q for q in quantities().values() if q.key != "done" and (not at_hand or q.default_instrument in at_hand)]
    for state in (one for one in visit.states_now() if one.offered):
        places = [name for name, point in board.points.items() if point.reachable]
        places += [*(e.name for e in board.elements.values() if e.kind == "V"), *parts]
        for what in kinds:
            if what.powered is None or what.powered == state.powered:
                tests = (make_test(board, place, what.key, state.name) for place in places)
                found += [test for test in tests if chain.answers(board, test)]
    return found


def candidates(board: Board, predict: Predict, tests: Sequence[Test]) -> list[Candidate]:
    """The tests with the uncertainty that their instruments have at what a healthy board would read."""
    predictions = predict([NOTHING_WRONG])
    where = columns(predictions)
    found = []
    for test in tests:
        group, column = where[key_of(test)]
        mean = float(predictions[group].mean[0, column])
        known = quantity(test.quantity).numeric and np.isfinite(mean)
        found.append(candidate_of(board, test, float(from_scale(test.quantity, mean)) if known else 0.0))
    return found
