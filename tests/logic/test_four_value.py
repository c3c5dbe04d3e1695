"""Buses, registers, loops and defects in four values: against Icarus Verilog, a textbook truth and the other engine."""

# ruff: noqa: ARG005  (a function table names both operands everywhere)

import re

import numpy as np
import pytest
from circuits import AUTHORITIES, circuit, random_netlist

from kilter.measure.errors import BadInput
from kilter.simulate.logic.defects import Bridge, Dead, NetStuck, PinOpen, PinStuck
from kilter.simulate.logic.faults import OUTPUT, Line, StuckAt, every_fault
from kilter.simulate.logic.four_value import trace
from kilter.simulate.logic.inject import Injector
from kilter.simulate.logic.lanes import all_vectors, random_vectors, unpack
from kilter.simulate.logic.levels import levelled
from kilter.simulate.logic.netlist import Chip, Gate, LogicNetlist, Register
from kilter.simulate.logic.simulate import truth

VERILOG_GATES = {"bufif1": "tri", "bufif0": "tri_low"}
PRIMITIVE = re.compile(r"^  (\w+) \w+ \(([^)]*)\);$", re.MULTILINE)


def board_from_verilog(text):
    """Our netlist of an authority's design: gate primitives, dff (q, d, clk, clr), latch (q, d, en)."""
    gates, registers = [], []
    for kind, terminals in PRIMITIVE.findall(text):
        output, *inputs = terminals.split(", ")
        if kind == "dff":
            registers.append(Register("dff", inputs[0], output, clock=inputs[1], clear=inputs[2]))
        elif kind == "latch":
            registers.append(Register("latch", inputs[0], output, clock=inputs[1]))
        else:
            gates.append(Gate(VERILOG_GATES.get(kind, kind), tuple(inputs), output))
    inputs = re.search(r"input ([^;]*);", text)[1].split(", ")
    nets = re.search(r"board \(([^)]*)\)", text)[1].split(", ")
    return LogicNetlist(tuple(gates), tuple(inputs), tuple(nets), tuple(registers))


@pytest.mark.parametrize("name", [f"{kind}-{seed}" for kind in ("bus", "clocked", "loop") for seed in range(3)])
def test_every_net_in_every_step_is_what_icarus_verilog_says(name):
    """authorities/logic, made by builders/build_logic_authority.py. We may say X where it says more, never other."""
    board = board_from_verilog((AUTHORITIES / f"{name}.v").read_text())
    _, nets, *steps = (AUTHORITIES / f"{name}.txt").read_text().splitlines()
    stimulus = np.array([["01zx".index(bit) for bit in line.split()[0]] for line in steps])
    told = np.array([list(line.split()[1].upper()) for line in steps])
    assert tuple(nets[2:].split()) == board.outputs
    found = trace(board, stimulus[:, None, :])
    ours = np.array([found.words(net)[0, :, 0] for net in board.outputs]).T
    assert ((ours == told) | (ours == "X")).all()
    share_known = (ours == told).mean()
    assert share_known > 0.97, f"known in {share_known:.1%} of places where the simulator is"


@pytest.mark.parametrize("netlist", [circuit("c17"), *map(random_netlist, range(12))], ids=lambda netlist: netlist.name)
def test_stuck_lines_do_the_same_in_both_engines(netlist):
    logic, vectors = levelled(netlist), all_vectors(len(netlist.inputs))
    faults = every_fault(netlist)
    stimulus = unpack(vectors.words, vectors.count).astype(int)
    found = trace(netlist, [stimulus], [(), *((fault,) for fault in faults)])
    injector = Injector(logic, vectors)
    for number, hypothesis in enumerate([[], *([fault] for fault in faults)]):
        assert (found.codes[number, 0] == unpack(injector.outputs(hypothesis), vectors.count)).all()


def three_valued_truth(netlist, row):
    """Outputs over every way to fill the unknown inputs in: '0', '1', or 'X' where they differ. The definition."""
    free = [place for place, code in enumerate(row) if code == 3]
    filled = np.tile(row, (1 << len(free), 1))
    filled[:, free] = (np.arange(1 << len(free))[:, None] >> np.arange(len(free))) & 1
    outputs = truth(netlist, filled)
    return ["X" if column.any() and not column.all() else str(int(column[0])) for column in outputs.T]


@pytest.mark.parametrize("seed", range(12))
def test_unknown_inputs_never_give_a_wrong_known_output(seed):
    netlist = random_netlist(seed)
    rng = np.random.default_rng(seed)
    rows = rng.choice([0, 1, 3], (40, len(netlist.inputs)))
    found = trace(netlist, [rows])
    words = np.array([found.words(net)[0, 0] for net in netlist.outputs]).T
    known = 0
    for row, said in zip(rows, words, strict=True):
        for ours, exact in zip(said, three_valued_truth(netlist, row), strict=True):
            assert ours in (exact, "X")
            known += ours != "X"
    assert known


def covers(unknown, known):
    """Whether 'X' stands wherever the run with unknowns does not say what the run without them says."""
    return (unknown == known) | (unknown == "X")


@pytest.mark.parametrize("name", [f"{kind}-{seed}" for kind in ("bus", "clocked", "loop") for seed in range(3)])
def test_unknown_inputs_in_time_leave_room_for_every_way_to_fill_them_in(name):
    """By definition of 'unknown': clocks, enables, clears and data made unknown now and then, then filled in."""
    board = board_from_verilog((AUTHORITIES / f"{name}.v").read_text())
    steps = (AUTHORITIES / f"{name}.txt").read_text().splitlines()[2:]
    stimulus = np.array([[int(bit) for bit in line.split()[0]] for line in steps])[:, None, :]
    rng = np.random.default_rng(7)
    holes = rng.random(stimulus.shape) < 0.03
    unknown = trace(board, np.where(holes, 3, stimulus))
    ways = np.where(holes, rng.integers(0, 2, (len(steps), 30, stimulus.shape[2])), stimulus)
    known = trace(board, ways)
    for net in board.outputs:
        assert covers(unknown.words(net), known.words(net)).all()
    assert (unknown.codes != 3).mean() > 0.3


def test_an_unknown_enable_and_an_unknown_clock_leave_both_outcomes_open():
    driver = LogicNetlist((Gate("tri", ("a", "e"), "y"),), ("a", "e"), ("y",), pulls={"y": "1"})
    assert words([], "y", driver, [[0, 3], [0, 1], [0, 0]]) == "X01"
    flip_flop = LogicNetlist((), ("d", "c"), ("q",), (Register("dff", "d", "q", clock="c", start="0"),))
    found = trace(flip_flop, [[[1, 0]], [[1, 3]], [[1, 0]]])
    assert "".join(found.words("q")[0, :, 0]) == "0XX"
    after = trace(flip_flop, [[[1, 0]], [[1, 1]], [[0, 3]], [[0, 1]]])
    assert "".join(after.words("q")[0, :, 0]) == "011X"


NAND_BOARD = LogicNetlist(
    gates=(
        Gate("nand", ("a", "b"), "m", "U1", ("1", "2"), "3"),
        Gate("nand", ("m", "c"), "y", "U1", ("4", "5"), "6"),
        Gate("not", ("m",), "z", "U2", ("1",), "2"),
    ),
    inputs=("a", "b", "c"),
    outputs=("m", "y", "z"),
    name="NAND board",
    chips={"U1": Chip("U1", "ttl", ("14",), ("7",)), "U2": Chip("U2", "cmos", ("14",), ("7",))},
)
ROWS = [[a, b, c] for a in (0, 1) for b in (0, 1) for c in (0, 1)]


def words(defects, net, board=NAND_BOARD, rows=ROWS):
    return "".join(trace(board, [rows], [defects]).words(net)[0, 0])


def test_an_open_ttl_input_reads_high_and_an_open_cmos_input_is_unknown():
    assert words([PinOpen("U1", "2")], "m") == words([NetStuck("b", "1")], "m") == "11110000"
    assert words([PinOpen("U2", "1")], "z") == "XXXXXXXX"


def test_an_open_output_leaves_its_net_floating_and_each_reader_sees_it_its_own_way():
    assert words([PinOpen("U1", "3")], "m") == "ZZZZZZZZ"
    assert words([PinOpen("U1", "3")], "y") == "10101010"
    assert words([PinOpen("U1", "3")], "z") == "XXXXXXXX"


def test_a_dead_chip_and_a_chip_without_supply():
    assert words([Dead("U1", "0")], "m") == words([Dead("U1", "0")], "y") == "00000000"
    assert words([Dead("U1", "0")], "z") == "11111111"
    assert words([Dead("U2", "Z")], "z") == "ZZZZZZZZ"
    assert words([PinOpen("U1", "14")], "y") == words([PinOpen("U1", "7")], "y") == "XXXXXXXX"


def test_a_stuck_input_is_stuck_inside_the_chip_a_stuck_output_pulls_the_net():
    assert words([PinStuck("U1", "4", "0")], "y") == "11111111"
    assert words([PinStuck("U1", "4", "0")], "z") == words([], "z")
    assert words([PinStuck("U1", "3", "0")], "z") == "11111111"


@pytest.mark.parametrize(("winner", "join"), [
    ("and", lambda a, b: a & b), ("or", lambda a, b: a | b), ("first", lambda a, b: a), ("second", lambda a, b: b),
])  # fmt: skip
def test_a_bridge_between_two_inputs_follows_its_definition(winner, join):
    """Wired-AND, wired-OR and dominant bridge as every text on test defines them: both nets carry the joined value."""
    joined = [[join(a, b), join(a, b), c] for a, b, c in ROWS]
    assert words([Bridge("a", "b", winner)], "m") == words([], "m", rows=joined)


def test_a_bridge_that_feeds_back_settles_where_it_can_and_is_unknown_where_it_swings():
    """Inverter with its output bridged to its input: the input's driver wins, or the ring has no rest at all."""
    inverter = LogicNetlist((Gate("not", ("a",), "y"),), ("a",), ("y", "a"))
    rows = [[0], [1]]
    assert words([Bridge("a", "y", "first")], "y", inverter, rows) == "01"
    assert words([Bridge("a", "y", "second")], "y", inverter, rows) == "XX"
    assert words([Bridge("a", "y", "and")], "y", inverter, rows) == "0X"
    assert words([Bridge("a", "y", "or")], "y", inverter, rows) == "X1"


def test_two_drivers_against_each_other_are_unknown_and_reported():
    bus = LogicNetlist(
        (Gate("tri", ("a", "e"), "y"), Gate("tri_low", ("b", "f"), "y")), ("a", "e", "b", "f"), ("y",), pulls={"y": "1"}
    )
    rows = [[0, 1, 1, 0], [0, 1, 1, 1], [0, 0, 0, 0], [1, 0, 0, 1], [1, 1, 1, 0]]
    found = trace(bus, [rows])
    assert "".join(found.words("y")[0, 0]) == "X0011"
    assert found.fighting[0, 0].tolist() == [True, False, False, False, False]


def test_open_collectors_on_a_pull_up_are_a_wired_and():
    bus = LogicNetlist(
        (Gate("open_collector", ("a",), "y"), Gate("open_collector", ("b",), "y")), ("a", "b"), ("y",), pulls={"y": "1"}
    )
    assert words([], "y", bus, [[0, 0], [0, 1], [1, 0], [1, 1]]) == "0001"
    assert not trace(bus, [[[0, 1]]]).fighting.any()


def counter(falling=False):
    """Three flip-flops in a row, each clocked by the one before: a ripple counter."""
    registers = [
        Register("dff", f"n{k}", f"q{k}", clock="clk" if not k else f"n{k - 1}", clear="clr", falling=falling,
                 inverse=f"n{k}", part=f"U{k}", pins={"clock": "3", "output": "5", "clear": "1"})
        for k in range(3)
    ]  # fmt: skip
    return LogicNetlist((), ("clk", "clr"), ("q2", "q1", "q0"), tuple(registers))


def counts(hypothesis=(), pulses=10):
    steps = [[0, 0], *([clock, 1] for _ in range(pulses) for clock in (0, 1))]
    found = trace(counter(), np.array(steps)[:, None, :], [hypothesis])
    return ["".join(found.words(net)[0, step, 0] for net in ("q2", "q1", "q0")) for step in range(2, 2 * pulses + 1, 2)]


def test_a_ripple_counter_counts_in_binary():
    assert counts() == [f"{number % 8:03b}" for number in range(1, 11)]


def test_defects_of_registers_reach_their_nets():
    assert {word[2] for word in counts([PinStuck("U0", "5", "0")])} == {"0"}
    assert {word[:2] for word in counts([PinStuck("U1", "3", "1")])} == {"00"}
    assert counts([Dead("U0", "Z")], 1)[0][2] == "Z"


def test_a_cleared_register_that_loses_its_clear_pin_is_unknown_on_an_unknown_family():
    """CMOS is assumed of a chip that nothing is known of; its open clear input may clear at any time."""
    assert all(word[2] in "0X" for word in counts([PinOpen("U0", "1")]))


def test_a_flip_flop_without_a_clock_net_takes_its_data_at_the_end_of_each_step():
    shift = LogicNetlist((), ("d",), ("q", "r"), (Register("dff", "d", "q"), Register("dff", "q", "r", start="0")))
    found = trace(shift, [[[1]], [[0]], [[1]], [[1]]])
    assert ["".join(found.words(net)[0, :, 0]) for net in ("q", "r")] == ["X101", "0X10"]


def test_data_that_moves_with_its_clock_is_a_race():
    flip_flop = LogicNetlist((), ("d", "c"), ("q",), (Register("dff", "d", "q", clock="c", start="0"),))
    found = trace(flip_flop, [[[0, 0]], [[1, 1]], [[1, 0]], [[1, 1]]])
    assert "".join(found.words("q")[0, :, 0]) == "0XX1"


def test_both_inputs_of_a_set_reset_latch_released_at_once_leave_it_unknown():
    """Textbook: crossed NANDs after 0,0 to 1,1 may fall either way; one after the other they remember the last."""
    latch = LogicNetlist((Gate("nand", ("s", "p"), "q"), Gate("nand", ("r", "q"), "p")), ("s", "r"), ("q", "p"))
    found = trace(latch, [[[0, 0]], [[1, 1]], [[0, 1]], [[1, 1]], [[1, 0]], [[1, 1]]])
    assert "".join(found.words("q")[0, :, 0]) == "1X1100"


def test_a_ring_of_three_inverters_never_settles():
    ring = LogicNetlist(tuple(Gate("not", (f"n{k}",), f"n{(k + 1) % 3}") for k in range(3)), (), ("n0",))
    assert trace(ring, np.zeros((1, 1, 0), int)).words("n0")[0, 0, 0] == "X"


def test_a_big_circuit_with_many_hypotheses_keeps_them_apart():
    netlist = circuit("c432")
    vectors = random_vectors(36, 100, seed=9)
    stimulus = unpack(vectors.words, 100).astype(int)
    faults = every_fault(netlist)[::40]
    found = trace(netlist, [stimulus], [(fault,) for fault in faults])
    injector = Injector(levelled(netlist), vectors)
    for number, fault in enumerate(faults):
        assert (found.codes[number, 0] == unpack(injector.outputs([fault]), 100)).all()


@pytest.mark.parametrize("defect", [
    PinOpen("U1", "9"), PinOpen("", ""), Dead("", "0"), PinStuck("U9", "1", "0"), Dead("U9", "0"),
    NetStuck("q", "1"), Bridge("a", "q", "and"),
    Bridge("a", "a", "and"), StuckAt(Line("a", 2, 0), 1), StuckAt(Line("a", OUTPUT), 1), StuckAt(Line("a"), 2),
])  # fmt: skip
def test_a_defect_that_touches_nothing_is_refused_and_not_taken_for_a_healthy_board(defect):
    with pytest.raises(BadInput, match="NAND board"):
        trace(NAND_BOARD, [ROWS], [[defect]])


def test_defects_that_contradict_each_other_leave_the_place_unknown():
    assert words([NetStuck("a", "0"), NetStuck("a", "1")], "m") == "11XX11XX"


def test_a_stimulus_that_does_not_fit_is_refused():
    with pytest.raises(BadInput, match=r"\(steps, vectors, 3\)"):
        trace(NAND_BOARD, [[[0, 1]]])
    with pytest.raises(BadInput, match="the code 4"):
        trace(NAND_BOARD, [[[0, 1, 4]]])
    with pytest.raises(BadInput, match="'diode'"):
        trace(
            LogicNetlist((Gate("not", ("a",), "y", "U1"),), ("a",), ("y",), chips={"U1": Chip("U1", "diode")}), [[[0]]]
        )
