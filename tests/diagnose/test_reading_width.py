"""The width over which a reading that means nothing may fall. Expected values by construction."""

from __future__ import annotations

import pytest

from kilter.circuit.board import Board, Element, Rail, State
from kilter.measure.scales import scaled_range
from kilter.services.evidence_of import width_of


def _board(*volts: float, state: float | None = None) -> Board:
    elements = {f"V{i}": Element(f"V{i}", "V", (f"n{i}", "0"), value) for i, value in enumerate(volts)}
    supplies = {} if state is None else {"V0": state}
    return Board("b", elements=elements, states={"on": State("on", powered=True, supplies=supplies)})


@pytest.mark.parametrize("quantity", ["voltage", "ac_voltage"])
def test_voltages_span_what_the_supplies_do(quantity: str) -> None:
    """From -12 to 5 V are 17 V, and a fifth more on either side; the 600 V of a meter's range play no part."""
    assert width_of(_board(5.0, -12.0), quantity) == pytest.approx(17.0 * 1.4)


@pytest.mark.parametrize("quantity", ["voltage", "ac_voltage"])
def test_never_less_than_a_volt_and_every_state_counts(quantity: str) -> None:
    """A board without supplies; one that a state sets to -14 V; one whose rail may reach 30 V."""
    rail = Board("b", rails={"HT": Rail("HT", "ht", 27.0, 24.0, 30.0)})
    assert width_of(_board(), quantity) == 1.0
    assert width_of(_board(14.0, state=-14.0), quantity) == pytest.approx(28.0 * 1.4)
    assert width_of(rail, quantity) == pytest.approx(30.0 * 1.4)


def test_other_quantities_span_their_range() -> None:
    """On their own scale."""
    low, high = scaled_range("resistance")
    assert width_of(_board(5.0), "resistance") == high - low
