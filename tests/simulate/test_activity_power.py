"""Rails, needs, regulators: where the circuit speaks, and where no circuit is known."""

import math

import numpy as np
import pytest
from activity_boards import FIVE, OFF, ON, block, board, predicted

from kilter.circuit.board import Block, Element, Need, Point, State
from kilter.measure.errors import BadInput
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.activity import ActivityPredictor


def clocked(**more):
    return board(
        Block("clk", "oscillator", ("X1",), ("V5",), {}, {"out": "clk"}, (Need("bias", 1.0, 2.0),), {"frequency": 1e6}),
        parts=[Part("X1", "crystal", {})],
        rails=[FIVE],
        points={"bias": Point("bias", "b1")},
        elements={"R1": Element("R1", "R", ("vcc", "b1"), 1e3), "R2": Element("R2", "R", ("b1", "0"), 470.0)},
        **more,
    )


def told(rail, bias):
    """A circuit that says these voltages, one tolerance sample each, for every hypothesis."""

    def circuit(_board, _state, hypotheses, pairs):
        said = {("vcc", "0"): rail, ("b1", "0"): bias}
        return np.stack([np.broadcast_to(said[pair], (len(hypotheses), len(rail))) for pair in pairs], axis=2)

    return circuit


def level(rail, bias):
    return predicted(clocked(), "clk", "level", circuit=told(rail, bias))


def test_rail_and_need_in_band():
    assert level([5.0, 5.1], [1.5, 1.4]) == {"pulsing": 1.0}


def test_share_of_samples_with_a_good_need_is_the_chance_of_moving():
    """Three of four tolerance samples are biased right: the clock runs on three boards of four."""
    assert level([5.0] * 4, [1.5, 1.5, 1.5, 0.2])["pulsing"] == pytest.approx(0.75)


def test_dead_rail_stops_all_and_a_sagging_or_high_one_leaves_doubt():
    """Works inside the band by definition of the band; below it, above it, or not settled, nothing is promised."""
    assert "pulsing" not in level([0.3], [1.5])
    for volts in (4.2, 7.0, math.nan):
        assert level([volts], [1.5])["pulsing"] == pytest.approx(0.2)
    assert level([5.0], [math.nan])["pulsing"] == pytest.approx(0.2)


def test_without_circuit_a_rail_is_good_unless_a_fault_says_otherwise():
    chip = Part("U1", "logic", {"vcc": "vcc", "gnd": "0", "1": "a", "2": "b"})
    made = board(
        block("clk", "oscillator", "X1", "V5", {"frequency": 1e6}),
        block("b", "buffer", "U1", "V5", **{"in": "a"}),
        block("a", "given", numbers={"level": 1}),
        parts=[chip],
        rails=[FIVE],
    )
    assert predicted(made, "clk", "level") == {"pulsing": 1.0}
    assert "pulsing" not in predicted(made, "clk", "level", ("U1", "short"))
    for pin in ("vcc", "gnd", "1"):
        assert predicted(made, "b", "level", ("U1", f"open {pin}"))["high"] < 0.5
    assert predicted(made, "b", "level", ("U1", "open 2"))["floating"] > 0.5
    assert predicted(made, "clk", "level", ("U1", "open 1")) == {"pulsing": 1.0}


def supplied():
    return board(
        block("raw", "supply", "T1", numbers={"voltage": 9.0}),
        block("V5", "regulator", "U1", numbers={"voltage": 5.0}, **{"in": "raw"}),
        block("clk", "oscillator", "X1", "V5", {"frequency": 1e6}),
        parts=[Part("T1", "transformer", {}), Part("U1", "regulator", {}), Part("X1", "crystal", {})],
        rails=[FIVE],
    )


@pytest.mark.parametrize(
    ("fault", "volts", "pulsing"),
    [((), 5.0, 1.0), ((("T1", "dead"),), 0.0, 0.0), ((("U1", "open"),), 0.0, 0.0), ((("U1", "short"),), 9.0, 0.2)],
)
def test_regulator_feeds_the_rail(fault, volts, pulsing):
    """9 V in: 5 V out; nothing in or dead: 0 V; shorted: 9 V out, and what hangs on it may or may not live."""
    mean, _, unknown = predicted(supplied(), "V5", "voltage", *fault)
    assert (mean, unknown) == (pytest.approx(volts), 0.0)
    assert predicted(supplied(), "clk", "level", *fault).get("pulsing", 0.0) == pytest.approx(pulsing)


def test_nominal_voltages_carry_their_tolerance():
    """4 % two-sigma of 5 V is 0.1 V."""
    assert predicted(supplied(), "V5", "voltage")[1] == pytest.approx(0.1)


def amplifier(*, needs, elements):
    q3 = Part("Q3", "transistor", {"c": "q3c", "b": "q3b", "e": "0"})
    amp = Block("amp", "amplifier", ("Q3",), (), {"in": "tone"}, {"out": "loud"}, needs, {"gain": 10.0})
    tone = block("tone", "given", numbers={"frequency": 1e3, "size": 0.1})
    each = {"Q3": Element("Q3", "Q", ("q3c", "q3b", "0"), 1.0, "Q3")} if elements else {}
    return board(amp, tone, parts=[q3], elements=each)


def test_faults_of_a_member_act_through_the_needs_if_there_are_any():
    """With needs the circuit decides; without them, or without a circuit, the member table does: never 'fine'."""
    needs = (Need("q3c", 4.0, 8.0),)

    def circuit(_board, _state, hypotheses, pairs):
        return np.array([[[0.1 if hypothesis else 6.0] * len(pairs)] for hypothesis in hypotheses])

    def says(made, *faults, circuit=None):
        return predicted(made, "loud", "level", *faults, circuit=circuit).get("pulsing", 0.0)

    fault = ("Q3", "short_ce")
    assert says(amplifier(needs=needs, elements=True), circuit=circuit) == 1.0
    for made, by in [
        (amplifier(needs=needs, elements=True), circuit),
        (amplifier(needs=needs, elements=True), None),
        (amplifier(needs=(), elements=True), circuit),
        (amplifier(needs=(), elements=False), None),
    ]:
        assert says(made, fault, circuit=by) == 0.0
    assert says(amplifier(needs=(), elements=False), ("Q3", "low_gain")) == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("ref", "mode", "pulsing"),
    [
        ("C1", "open", 0.0),  # a coupling capacitor stops the signal without moving any DC voltage
        ("C1", "low", 0.2),
        ("C1", "short", 1.0),  # felt by the circuit, whose needs stay met in this made-up case
        ("C2", "open", 1.0),  # between a rail and ground: the circuit predictor's business
        ("R1", "open", 1.0),
    ],
)
def test_what_dc_does_not_notice_is_not_taken_for_fine(ref, mode, pulsing):
    """That direct current does not pass a capacitor, and so does not tell a good one from an open one, is physics."""
    nets = {"C1": ("a", "b"), "C2": ("vcc", "0"), "R1": ("vcc", "b")}
    parts = [Part(name, "film" if name[0] == "C" else "resistor", {"1": p, "2": n}) for name, (p, n) in nets.items()]
    need = (Need("b", 0.0, 9.0),)
    amp = Block("amp", "amplifier", ("Q3", *nets), ("V5",), {"in": "tone"}, {"out": "loud"}, need)
    made = board(
        amp,
        block("tone", "given", numbers={"frequency": 1e3}),
        parts=[Part("Q3", "transistor", {}), *parts],
        rails=[FIVE],
        elements={name: Element(name, name[0], pair, 1e-6, name) for name, pair in nets.items()},
    )

    def circuit(_board, _state, hypotheses, pairs):
        return np.full((len(hypotheses), 1, len(pairs)), 5.0)

    said = predicted(made, "loud", "level", (ref, mode), circuit=circuit)
    assert said.get("pulsing", 0.0) == pytest.approx(pulsing)
    if mode == "open":
        pulled = predicted(made, "loud", "level", state=ON.after(unplugged=ref), circuit=circuit)
        assert pulled.get("pulsing", 0.0) == pytest.approx(pulsing)


def test_amplifier_gain():
    """0.1 V peak to peak times 10 is 1 V."""
    assert np.exp(predicted(amplifier(needs=(), elements=False), "loud", "signal")[0]) == pytest.approx(1.0, rel=2e-3)


def test_states_take_faults_and_parts_away():
    made, fault = supplied(), ("U1", "open")
    assert predicted(made, "clk", "level", fault, state=ON.after(renewed="U1")) == {"pulsing": 1.0}
    assert predicted(made, "V5", "level", state=ON.after(unplugged="U1"))["floating"] > 0.5
    pins = Part("U9", "counter", {"in": "clk", "out": "half", "vcc": "vcc", "gnd": "0"})
    half = block("half", "divider", "U9", numbers={"divide": 2}, **{"in": "clk"})
    made = board(block("clk", "given", numbers={"frequency": 1e6}), half, parts=[pins])
    assert predicted(made, "half", "level") == {"pulsing": 1.0}
    assert "pulsing" not in predicted(made, "half", "level", state=ON.after(lifted="U9.in"))


def test_switch_follows_the_state():
    contact = block("out", "switch", "S1", **{"in": "clk"})
    made = board(block("clk", "given", numbers={"frequency": 1e6}), contact, parts=[Part("S1", "switch", {})])
    assert predicted(made, "out", "level") == {"pulsing": 1.0}
    opened = State("open", powered=True, modes={"S1": "open"})
    assert "pulsing" not in predicted(made, "out", "level", state=opened)


def test_heat_and_look_of_a_part():
    """Chances come from the part's mode; a hot mode reads hot, nothing is warm in an object that is off."""
    made = supplied()
    assert predicted(made, "U1", "heat", ("U1", "short"))["hot"] > predicted(made, "U1", "heat")["hot"]
    assert "hot" not in predicted(made, "U1", "heat", ("U1", "short"), state=OFF)
    rises = [predicted(made, "U1", "temperature_rise", *f)[0] for f in ((("U1", "open"),), (), (("U1", "short"),))]
    assert rises == sorted(rises)
    burnt = predicted(made, "U1", "look", ("U1", "short"))["burnt"]
    assert burnt > 10 * predicted(made, "U1", "look").get("burnt", 0.0)
    assert predicted(made, "U1", "look", ("X1", "dead")) == predicted(made, "U1", "look")


def test_what_it_answers():
    made, predictor = supplied(), ActivityPredictor()
    yes = [("clk", "frequency"), ("V5", "voltage"), ("U1", "look"), ("X1", "heat"), ("clk", "activity")]
    no = [("clk", "voltage"), ("clk", "picture"), ("U1", "frequency"), ("clk", "look"), ("nowhere", "level")]
    assert all(predictor.answers(made, Test(*pair, "on")) for pair in yes)
    assert not any(predictor.answers(made, Test(*pair, "on")) for pair in no)
    with pytest.raises(BadInput, match="frequency"):
        predicted(made, "clk", "picture")
    with pytest.raises(BadInput, match="U99"):
        predicted(made, "clk", "level", ("U99", "dead"))


def test_picture_sound_light():
    """Alive reads right, without signal reads none: common practice, no source."""
    made = board(
        block("video", "given", "U1", numbers={"frequency": 15625.0}),
        block("screen", "display", "U2", video="video"),
        block("horn", "speaker", "U3", **{"in": "video"}),
        block("led", "lamp", "U4", **{"in": "video"}),
    )
    for point, key, right, none in [("screen", "picture", "right", "none"), ("horn", "sound", "right", "none"),
                                    ("led", "light", "lit", "dark")]:  # fmt: skip
        alive, dead = predicted(made, point, key), predicted(made, point, key, ("U1", "dead"))
        assert max(alive, key=alive.get) == right
        assert max(dead, key=dead.get) == none
        assert sum(dead.values()) == pytest.approx(1.0)
