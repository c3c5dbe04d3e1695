"""Clocks, dividers and counters against closed forms: f / N."""

import math

import numpy as np
import pytest
from activity_boards import OFF, ON, block, board, predicted
from hypothesis import given, settings
from hypothesis import strategies as st

from kilter.measure.errors import BadInput
from kilter.measure.scales import from_scale, scaled_range, to_scale
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.activity import ActivityPredictor


def clock(frequency=4e6, **numbers):
    return block("clk", "oscillator", "X1", numbers={"frequency": frequency, **numbers})


def chain(frequency, divisors):
    """A clock and dividers d0, d1 ... one after the other, with chips U0, U1 ..."""
    names = ["clk", *(f"d{n}" for n in range(len(divisors)))]
    made = [
        block(f"d{n}", "divider", f"U{n}", numbers={"divide": by}, **{"in": names[n]}) for n, by in enumerate(divisors)
    ]
    return board(clock(frequency), *reversed(made), parts=[Part("X1", "crystal", {})])


@settings(max_examples=30, deadline=None)
@given(st.floats(1e3, 2e7), st.lists(st.integers(2, 256), min_size=1, max_size=6), st.data())
def test_chain_of_dividers(frequency, divisors, data):
    """Closed form: f / (N1 N2 ...); a stage that does not divide leaves its N out; a dead one stops all behind it."""
    on = chain(frequency, divisors)
    fault = data.draw(st.integers(0, len(divisors) - 1))
    none, undivided, dead = frozenset(), frozenset({(f"U{fault}", "no_division")}), frozenset({(f"U{fault}", "dead")})
    tests = [Test(f"d{n}", "frequency", "on") for n in range(len(divisors))]
    answer = ActivityPredictor().predict(on, ON, [none, undivided, dead], tests)
    product, without = frequency, frequency
    for n, by in enumerate(divisors):
        product, without = product / by, without / (1 if n == fault else by)
        expected = [product, without, product if n < fault else 0.0]
        np.testing.assert_allclose(answer.mean[:, n], to_scale("frequency", expected), rtol=1e-12)
        assert not answer.unknown[:, n].any()


def test_counter_stages():
    """Output qN of a binary counter is f / 2^(N+1): 1 MHz gives 500, 250, 125, 62.5 kHz."""
    stages = block("count", "counter", "U1", outputs={f"q{n}": f"q{n}" for n in range(4)}, **{"in": "clk"})
    on = board(clock(1e6), stages)
    read = [from_scale("frequency", predicted(on, f"q{n}", "frequency")[0]) for n in range(4)]
    assert np.allclose(read, [500e3, 250e3, 125e3, 62.5e3])


def test_tolerance_of_the_oscillator_reaches_all_that_divides_it():
    """On a log scale a relative spread stays what it is (first order): 10 % two-sigma is 0.05, at f and at f / 8."""
    on = board(clock(8e5, tolerance=0.1), block("d", "divider", "U1", numbers={"divide": 8}, **{"in": "clk"}))
    for point in ("clk", "d"):
        assert predicted(on, point, "frequency")[1] == pytest.approx(0.05, rel=1e-4)


def test_reset_port_of_a_divider_holds_its_output_low():
    held = block("hold", "given", numbers={"level": 1})
    on = board(clock(), held, block("d", "divider", "U1", numbers={"divide": 2}, reset="hold", **{"in": "clk"}))
    assert predicted(on, "d", "level") == {"low": 1.0}
    assert predicted(on, "d", "frequency") == (0.0, 0.0, 0.0)


def test_wrong_division_could_be_anything():
    mean, spread, unknown = predicted(chain(1e6, [4]), "d0", "frequency", ("U0", "wrong"))
    low, high = scaled_range("frequency")
    assert unknown == 1.0
    assert spread == pytest.approx((high - low) / math.sqrt(12.0))
    assert low < mean < high


def test_a_crystal_that_starts_only_sometimes_is_half_in_doubt():
    """The share of 'intermittent' is judgement; that nothing in a chain of dividers makes it surer is not."""
    on = chain(1e6, [4, 4])
    doubts = [predicted(on, point, "frequency", ("X1", "intermittent"))[2] for point in ("clk", "d0", "d1")]
    assert doubts == [0.5, 0.5, 0.5]


def test_unpowered_nothing_moves():
    on = chain(1e6, [4])
    assert predicted(on, "d0", "frequency", state=OFF) == (0.0, 0.0, 0.0)
    assert "pulsing" not in predicted(on, "clk", "level", state=OFF)


@pytest.mark.parametrize(
    ("made", "says"),
    [
        (block("d", "divider", numbers={}), "divide"),
        (block("d", "divider", numbers={"divide": 0}), "divide"),
        (block("d", "counter", outputs={"half": "d"}), "half"),
        (block("d", "flux", numbers={}), "flux"),
        (block("clk", "oscillator"), "frequency"),
        (block("d", "given", numbers={"value": 99}), "99"),
        (block("d", "adder", numbers={"values": 1}), "values"),
    ],
)
def test_blocks_that_cannot_be_worked_out_are_refused(made, says):
    with pytest.raises(BadInput) as caught:
        predicted(board(made), made.name, "level" if made.kind != "adder" else "value")
    error = caught.value
    assert says in str(error)
    assert all((error.doing, error.found, error.allowed, error.do_next))
