"""From readings and open tests to what the weigher works on: scaled values, uncertainties and widths."""

from __future__ import annotations

import numpy as np

from kilter.circuit.board import Board
from kilter.diagnose.evidence import Candidate, Evidence
from kilter.diagnose.settings import setting
from kilter.measure.instruments import instrument
from kilter.measure.quantities import quantity
from kilter.measure.scales import scaled_range, scaled_uncertainty, to_scale
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.safety.hazards import CHASSIS_NEED, chassis_in_doubt


def test_of(board: Board, reading: Reading) -> Test:
    """The test that a reading answers."""
    return make_test(board, reading.point, reading.quantity, reading.state, reading.instrument)


def make_test(board: Board, point: str, quantity_key: str, state: str, instrument_key: str = "") -> Test:
    """A test with the cost, grade and risks of its quantity and point."""
    what, place = quantity(quantity_key), board.points.get(point)
    minutes = place.minutes if place is not None and place.minutes is not None else what.minutes
    grade = max(what.grade, place.grade if place is not None and what.grade >= 2 else 0)
    powered = board.state(state).powered
    return Test(
        point=point,
        quantity=quantity_key,
        state=state,
        instrument=instrument_key or what.default_instrument,
        minutes=minutes,
        grade=grade,
        risk_object=what.risk_object,
        risk_person=what.risk_person,
        needs=_needs(board) if powered else (),
    )


def _needs(board: Board) -> tuple[str, ...]:
    return ("power checks", CHASSIS_NEED) if chassis_in_doubt(board) else ("power checks",)


def evidence_of(board: Board, reading: Reading) -> Evidence:
    """One reading on the scale of its quantity."""
    test = test_of(board, reading)
    gross = setting("outlier_doubtful") if reading.doubtful else _gross(test)
    if reading.value is None:
        return Evidence(test, word=reading.word, outlier=gross, place=reading.place)
    value = float(to_scale(reading.quantity, np.array(reading.value)))
    sd = float(scaled_uncertainty(reading.quantity, reading.value, reading.uncertainty))
    return Evidence(test, value, "", sd, width_of(board, reading.quantity), gross, place=reading.place)


def candidate_of(board: Board, test: Test, expected: float) -> Candidate:
    """
    A test that could be done.

    Args:
        board: For the width of its readings.
        test: With its instrument.
        expected: A typical reading, at which the instrument's uncertainty is taken. [the quantity's unit]
    """
    what = quantity(test.quantity)
    if not what.numeric:
        return Candidate(test, outlier=_gross(test))
    used = instrument(test.instrument)
    uncertainty = used.standard_uncertainty(test.quantity, expected) if used.can_read(test.quantity) else 0.0
    sd = float(scaled_uncertainty(test.quantity, expected, uncertainty))
    return Candidate(test, sd, width_of(board, test.quantity), _gross(test))


def width_of(board: Board, quantity_key: str) -> float:
    """
    Length of the range in which a reading that means nothing may fall. [scaled]

    For voltages, direct or alternating, it is what the board's own supplies and rails span, with a fifth to spare on
    either side, and never less than one volt; for other quantities the range of the quantity.
    """
    if quantity_key not in ("voltage", "ac_voltage"):
        low, high = scaled_range(quantity_key)
        return high - low
    volts = [0.0, *(e.value for e in board.elements.values() if e.kind == "V")]
    volts += [value for rail in board.rails.values() for value in (rail.low, rail.high)]
    volts += [value for state in board.states.values() for value in state.supplies.values()]
    return max(1.0, 1.4 * (max(volts) - min(volts)))


def _gross(test: Test) -> float:
    return instrument(test.instrument).outlier_share if test.instrument else setting("outlier")
