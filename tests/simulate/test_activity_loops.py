"""Loops come to rest, with the result that follows from the definitions; what never rests is called unknown."""

from random import Random

import numpy as np
import pytest
from activity_boards import FIVE, ON, block, board, predicted

from kilter.circuit.board import Block
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.activity import ActivityPredictor
from kilter.simulate.activity.block_kinds import block_kinds

EVEN = dict.fromkeys(["low", "high", "pulsing", "floating", "between"], 0.2)


def computer(*more):
    """Clock, reset, processor and memory; the processor hears the memory that hears the processor."""
    return board(
        Block("cpu", "processor", ("U6",), ("V5",), {"clock": "clk", "reset": "res", "data": "data"},
              {"bus": "address", "clock_out": "e"}, numbers={"divide": 4}),
        block("ram", "memory", "U7", "V5", outputs={"data": "data"}, bus="address"),
        block("res", "reset", "U2", "V5"),
        block("clk", "oscillator", "X1", "V5", {"frequency": 4e6}),
        *more,
        parts=[Part("X1", "crystal", {}), Part("U6", "processor", {}), Part("U7", "memory", {})],
        rails=[FIVE],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("fault", "moving", "resting"),
    [
        ((), ["clk", "address", "data"], []),
        ((("X1", "dead"),), [], ["clk", "address", "data"]),
        ((("U2", "stuck_low"),), ["clk"], ["address", "data"]),
        ((("U6", "dead"),), ["clk"], ["address", "data"]),
        ((("U7", "dead"),), ["clk"], ["data"]),
    ],
)
def test_computer(fault, moving, resting):
    """A processor needs clock, released reset and answering memory: common practice, no source."""
    words = {name: predicted(computer(), name, "level", *fault) for name in ("clk", "address", "data")}
    assert all(words[name] == {"pulsing": 1.0} for name in moving)
    assert all("pulsing" not in words[name] for name in resting)


def test_clock_output_goes_on_whatever_the_program_does():
    for fault in ((), (("U7", "dead"),), (("U2", "stuck_low"),)):
        assert np.expm1(predicted(computer(), "e", "frequency", *fault)[0]) == pytest.approx(1e6)


def test_missing_and_wrong_data_leave_the_processor_in_doubt_not_fine():
    for mode in ("dead", "wrong", "intermittent"):
        words = predicted(computer(), "address", "level", ("U7", mode))
        assert 0.0 < words["pulsing"] < 1.0


def test_doubt_of_a_loop_is_the_limit_of_the_series():
    """Memory in doubt by 1/2, processor by 1/2 of that: d = 1/2 + d/4, so d = 2/3, of which 1/5 falls on 'pulsing'."""
    words = predicted(computer(), "data", "level", ("U7", "intermittent"))
    assert words["pulsing"] == pytest.approx(1 / 3 + 2 / 3 / 5, abs=1e-5)


@pytest.mark.parametrize("stages", [1, 2, 3, 4])
def test_ring_of_inverters_is_unknown_and_so_is_what_it_feeds(stages):
    """
    An odd ring oscillates, an even one latches one way or the other: levels alone cannot tell, so neither is claimed.
    One stuck output decides the whole ring: the n-th inverter behind it rests opposite to it for odd n.
    """
    ring = [block(f"n{n}", "not", f"U{n}", **{"in": f"n{(n - 1) % stages}"}) for n in range(stages)]
    follow, apart = block("after", "buffer", "B", **{"in": "n0"}), block("apart", "given", numbers={"level": 1})
    on = board(follow, *ring, apart)
    assert predicted(on, "n0", "level") == pytest.approx(EVEN)
    assert predicted(on, "after", "level") == pytest.approx(EVEN)
    assert predicted(on, "apart", "level") == {"high": 1.0}
    for n in range(stages):
        assert predicted(on, f"n{n}", "level", ("U0", "stuck_low")) == {"high" if n % 2 else "low": 1.0}


def test_latch_of_two_nand_gates():
    """Truth table of the set-reset latch: a low input sets its own output high and the other low; both high holds."""
    for lows, q, p in [("s", "high", "low"), ("r", "low", "high"), ("s r", "high", "high")]:
        made = latch(set(lows.split()))
        assert (predicted(made, "q", "level"), predicted(made, "p", "level")) == ({q: 1.0}, {p: 1.0})
    assert predicted(latch(set()), "q", "level") == pytest.approx(EVEN)


def latch(lows):
    inputs = [block(name, "given", numbers={"level": int(name not in lows)}) for name in ("s", "r")]
    return board(block("q", "nand", "U1", a="s", b="p"), block("p", "nand", "U2", a="r", b="q"), *inputs)


def test_two_memories_share_the_data_line():
    """Both answer the processor; with one silent the line still moves, but not surely; with both silent it rests."""
    on = computer(block("rom", "rom", "U8", "V5", outputs={"data": "data"}, bus="address"))
    says = [
        predicted(on, "data", "level", *((ref, "dead") for ref in dead.split())).get("pulsing", 0.0)
        for dead in ("", "U7", "U7 U8", "U6")
    ]
    assert says[0] == 1.0
    assert 0.0 < says[1] < 1.0
    assert says[2:] == [0.0, 0.0]


def test_memories_that_hear_each_other_on_one_line_do_not_keep_each_other_going():
    """With a dead processor nothing may be claimed to move on a bus that only memories drive."""
    shared = {"bus": "bus"}
    on = board(
        Block("cpu", "processor", ("U6",), (), {"clock": "clk", "data": "bus"}, shared),
        block("clk", "given", numbers={"frequency": 1e6}),
        *(block(f"m{n}", "memory", f"U{n}", outputs={"data": "bus"}, **shared) for n in range(2)),
    )
    assert predicted(on, "bus", "level", ("U6", "dead")).get("pulsing", 0.0) <= 0.2 + 1e-9


@pytest.mark.parametrize("seed", range(12))
def test_random_loops_end_and_give_chances(seed):
    """Any wiring of gates, processors and followers, loops and shared lines included, ends; chances add up to 1."""
    random = Random(seed)
    acts = ("gate", "follower", "processor", "mixer")
    kinds = [key for key, kind in block_kinds().items() if kind.act.startswith(acts) and "level" in kind.reads]
    made = []
    for n in range(14):
        ports = random.sample(["in", "clock", "data", "reset", "a", "b"], random.randint(1, 3))
        heard = {port: f"n{random.randrange(10)}" for port in ports}
        made.append(block(f"b{n}", random.choice(kinds), f"U{n}", outputs={"out": f"n{random.randrange(10)}"}, **heard))
    made.append(block("clk", "oscillator", "X1", numbers={"frequency": 1e6}, outputs={"out": "n0"}))
    on = board(*made)
    hypotheses = [frozenset(), *(frozenset({(f"U{n}", m)}) for n in range(14) for m in ("dead", "wrong", "stuck_high"))]
    points = sorted({signal for each in made for signal in each.outputs.values()})
    answer = ActivityPredictor().predict(on, ON, hypotheses, [Test(point, "level", "on") for point in points])
    for _, chances in answer.words.values():
        np.testing.assert_allclose(chances.sum(1), 1.0)
        assert (chances >= 0.0).all()


def test_order_of_blocks_and_of_hypotheses_does_not_matter():
    on = computer()
    turned = board(*reversed(on.blocks.values()), parts=on.parts.values(), rails=[FIVE])
    hypotheses = [frozenset(), frozenset({("U7", "wrong")}), frozenset({("X1", "intermittent"), ("U6", "slow")})]
    tests = [Test(name, "level", "on") for name in ("clk", "address", "data", "res")]
    one = ActivityPredictor().predict(on, ON, hypotheses[:2], tests)
    other = ActivityPredictor().predict(turned, ON, hypotheses[1::-1], tests)
    for column in range(len(tests)):
        np.testing.assert_allclose(one.words[column][1], other.words[column][1][::-1], atol=1e-5)
