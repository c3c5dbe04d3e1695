"""
The closed-loop benchmark: its objects, its expert and its figures are what they say, and a small run ends.

Sources beside each check.
"""

import json
import subprocess
import sys
from math import ceil, log2
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest

from kilter.circuit.board import Board, Element, Point, State
from kilter.measure.errors import NotAvailable
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.ngspice.library import find_ngspice
from kilter.simulate.ngspice.worker import NgspiceWorker

FOLDER = Path(__file__).parents[2] / "benchmarks" / "closed_loop"
ON, OFF = State("on", powered=True), State("off", powered=False)


def ngspice_is_absent():
    try:
        find_ngspice()
    except NotAvailable:
        return True
    return False


needs_ngspice = pytest.mark.skipif(ngspice_is_absent(), reason="the ngspice shared library is not installed")


@pytest.fixture
def modules(monkeypatch):
    monkeypatch.syspath_prepend(str(FOLDER))
    import bench_object
    import cases
    import expert
    import score

    return {"bench_object": bench_object, "cases": cases, "expert": expert, "score": score}


def divider():
    parts = {ref: Part(ref, "resistor", {"1": a, "2": b}) for ref, a, b in (("R1", "in", "tap"), ("R2", "tap", "0"))}
    elements = {
        "V1": Element("V1", "V", ("in", "0"), 10.0),
        "R1": Element("R1", "R", ("in", "tap"), 1e6, "R1"),
        "R2": Element("R2", "R", ("tap", "0"), 1e6, "R2"),
    }
    points = {name: Point(name, name) for name in ("in", "tap")}
    return Board("divider", parts, elements, points, states={"on": ON, "off": OFF})


@needs_ngspice
@pytest.mark.ngspice
def test_the_meter_loads_what_it_reads_and_reads_ohms_by_itself(modules):
    """Closed form: 1 Mohm over 1 Mohm beside a 10 Mohm meter; with R2 open the meter alone is the lower arm."""
    make = modules["bench_object"].BenchObject
    with NgspiceWorker() as worker:
        whole = make(worker, divider(), frozenset(), (1,))
        volts, ohms = Test("tap", "voltage", "on", "dmm"), Test("tap", "resistance", "off", "dmm")
        assert whole.value(volts, ON) == pytest.approx(10.0 * (10 / 11) / (1 + 10 / 11), rel=1e-6)
        assert whole.value(ohms, OFF) == pytest.approx(1e6, rel=1e-4)
        broken = make(worker, divider(), frozenset({("R2", "open")}), (1,))
        assert broken.value(volts, ON) == pytest.approx(10.0 * 10 / 11, rel=1e-4)
        assert broken.value(Test("V1", "current", "on", "supply_meter"), ON) < 1e-9


@needs_ngspice
@pytest.mark.ngspice
def test_readings_spread_as_the_instrument_says_and_some_are_nonsense(modules):
    """The standard deviation of many readings is the instrument's standard uncertainty; the share of slips is drawn."""
    make = modules["bench_object"].BenchObject
    test = Test("in", "voltage", "on", "dmm")
    with NgspiceWorker() as worker:
        good = [make(worker, divider(), frozenset(), (seed,), gross=0.0).read(test, ON, "on") for seed in range(300)]
        bad = [make(worker, divider(), frozenset(), (seed,), gross=1.0).read(test, ON, "on") for seed in range(20)]
    values = np.array([one.value for one in good])
    assert values.mean() == pytest.approx(10.0, abs=4 * good[0].uncertainty / np.sqrt(300))
    assert values.std() == pytest.approx(good[0].uncertainty, rel=0.2)
    assert np.mean([abs(one.value - 10.0) > 5 * one.uncertainty for one in bad]) > 0.8


def test_every_way_reads_the_same_numbers(modules):
    """The noise belongs to the object, the place and how often it was read, not to the order of asking."""
    case = modules["bench_object"].BenchObject
    if ngspice_is_absent():
        pytest.skip("the ngspice shared library is not installed")
    first, second = Test("in", "voltage", "on", "dmm"), Test("tap", "voltage", "on", "dmm")
    with NgspiceWorker() as worker:
        one, other = (case(worker, divider(), frozenset(), (7,)) for _ in range(2))
        forwards = [one.read(test, ON, "on").value for test in (first, second)]
        backwards = [other.read(test, ON, "on").value for test in (second, first)]
        again = other.read(first, ON, "on").value
    assert forwards == backwards[::-1]
    assert again != forwards[0]


@pytest.mark.parametrize("broken", range(10))
def test_the_expert_halves_a_chain(modules, broken):
    """With perfect readings a break in a chain of n points is found with log2 n readings, rounded up (bisection)."""
    flow = tuple(f"p{n}" for n in range(10))
    stages = {point: (f"R{n}",) for n, point in enumerate(flow)} | {"rail": ("U1",)}
    plan = modules["cases"].Plan("chain", "", "V1", "on", "off", ("rail",), flow, stages)
    board = Board("chain", points={name: Point(name, name) for name in ("rail", *flow)}, states={"on": ON, "off": OFF})
    plan.__dict__["board"] = board
    expert = modules["expert"].Expert(plan)
    order = expert.order()
    test, read = next(order), 0
    while not expert.located:
        read += 1
        test = order.send(test.point == "rail" or flow.index(test.point) < broken)
    assert expert.located == flow[broken]
    assert read <= 1 + ceil(log2(len(flow) + 1))
    assert expert.verdict({}) == [f"R{broken}"]


@pytest.mark.parametrize(("hits", "of"), [(0, 10), (8, 10), (95, 100), (100, 100)])
def test_intervals_of_shares(modules, hits, of):
    """scipy's interval by Wilson's method."""
    theirs = binomtest(hits, of).proportion_ci(0.95, method="wilson")
    assert modules["score"].wilson(hits, of) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


def test_every_board_of_the_benchmark_has_the_points_and_parts_that_its_expert_uses(modules):
    for plan in modules["cases"].plans():
        assert set(plan.rails + plan.flow) == set(plan.stages) <= set(plan.board.points)
        assert {part for stage in plan.stages.values() for part in stage} <= set(plan.board.parts)
        felt = {part for part, _ in modules["cases"].felt(plan.board)}
        chips = {ref for ref in felt if f"R_{ref}.load" in plan.board.elements}
        assert felt - chips <= {part for stage in plan.stages.values() for part in stage}


@needs_ngspice
@pytest.mark.ngspice
def test_a_small_run_ends_and_finds_something(tmp_path):
    """Four objects with one fault each, no slips: the advice must find most, by the part that was broken."""
    out = tmp_path / "outcomes.jsonl"
    command = [sys.executable, str(FOLDER), "--cases", "4", "--boards", "reset", "audio", "--seed", "3", "--gross", "0"]
    command += ["--ways", "advice", "half-splitting alone", "--processes", "1", "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    found = [json.loads(line) for line in out.read_text("utf-8").splitlines()]
    assert [one["way"] for one in found].count("advice") == 4
    right = 0
    for one in found:
        broken = {part for part, _ in one["faults"]}
        first = set(one["ranking"][0]) if one["ranking"] else set()
        assert (one["rank"] == 1) == bool(broken & first)
        right += one["way"] == "advice" and one["rank"] == 1
    assert right >= 3
    assert "advice" in done.stdout
