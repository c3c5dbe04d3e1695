"""
The ngspice worker against closed forms, and its conduct when things go wrong.

Authorities: Ohm's law; the Shockley equation solved by bisection; the first-order low-pass and charging curve.
"""

from __future__ import annotations

import math
import os
import signal
from collections.abc import Iterator

import pytest

from kilter.measure.errors import BadInput, KilterError, NotAvailable
from kilter.simulate.ngspice import NgspiceWorker, NotSettled
from kilter.simulate.ngspice.library import ENVIRONMENT_NAME, find_ngspice

BOLTZMANN, CHARGE = 1.380649e-23, 1.602176634e-19  # SI Brochure, 9th edition (exact)
ROOM = 300.15  # 27 degC
TIGHT = ".options reltol=1e-6 vntol=1e-9 abstol=1e-14 gmin=1e-12\n"

DIVIDER = "* divider\nv1 in 0 dc 9\nr1 in 2 10k\nr2 2 0 4.7k\n.op\n.end\n"


def diode_netlist(ohms: float) -> str:
    return f"* diode\nv1 in 0 dc 5\nr1 in a {ohms}\nd1 a 0 junction\n.model junction d(is=1e-14)\n{TIGHT}.op\n.end\n"


def diode_volts(supply: float, ohms: float) -> float:
    """Root of (supply - v)/ohms = Is (exp(v/Vt) - 1) + gmin v, by bisection."""
    low, high = 0.0, 1.0
    thermal = BOLTZMANN * ROOM / CHARGE
    for _ in range(200):
        middle = (low + high) / 2
        excess = (supply - middle) / ohms - 1e-14 * math.expm1(middle / thermal) - 1e-12 * middle
        low, high = (middle, high) if excess > 0 else (low, middle)
    return low


def library_is_here() -> bool:
    try:
        find_ngspice()
    except NotAvailable:
        return False
    return True


needs_library = pytest.mark.skipif(not library_is_here(), reason="the ngspice shared library is absent")


@pytest.fixture(scope="module")
def worker() -> Iterator[NgspiceWorker]:
    with NgspiceWorker() as started:
        yield started


@pytest.mark.ngspice
@needs_library
class TestAnswers:
    def test_divider(self, worker: NgspiceWorker) -> None:
        point = worker.operating_point(DIVIDER)
        assert point["2"] == pytest.approx(9 * 4.7 / 14.7, rel=1e-9)
        assert point["v1#branch"] == pytest.approx(-9 / 14.7e3, rel=1e-9)

    @pytest.mark.parametrize("ohms", [100.0, 10e3, 1e6])
    def test_diode(self, worker: NgspiceWorker, ohms: float) -> None:
        # The library's own k and q are those of CODATA 2014 and differ from ours by 1e-6.
        assert worker.operating_point(diode_netlist(ohms))["a"] == pytest.approx(diode_volts(5, ohms), rel=3e-6)

    def test_alterations_stay_until_altered_again(self, worker: NgspiceWorker) -> None:
        points = worker.alter_points(DIVIDER, [[("alter", "r2", 10e3)], [("alter", "v1", 5.0)], []])
        volts = [point["2"] for point in points if point]
        assert volts == pytest.approx([4.5, 2.5, 2.5], rel=1e-9)

    def test_altered_model(self, worker: NgspiceWorker) -> None:
        saturation = 1e-12
        (point,) = worker.alter_points(diode_netlist(1e3), [[("altermod", "junction", "is", saturation)]])
        assert point is not None
        current = (5 - point["a"]) / 1e3
        law = saturation * math.expm1(point["a"] * CHARGE / (BOLTZMANN * ROOM))
        assert law == pytest.approx(current, rel=1e-4)

    def test_low_pass(self, worker: NgspiceWorker) -> None:
        netlist = "* low-pass\nv1 in 0 dc 0 ac 1\nr1 in out 1k\nc1 out 0 100n\n.end\n"
        frequencies = [10.0, 1591.549430918953, 1e5]
        response = worker.ac(netlist, frequencies)["out"]
        assert response.shape == (3,)
        for value, frequency in zip(response, frequencies, strict=True):
            assert complex(value) == pytest.approx(1 / (1 + 2j * math.pi * frequency * 1e-4), rel=1e-6)

    def test_charging_curve(self, worker: NgspiceWorker) -> None:
        netlist = "* charging\nv1 in 0 dc 5\nr1 in out 1k\nc1 out 0 1u ic=0\n.end\n"
        course = worker.transient(netlist, step=1e-5, stop=3e-3, max_step=1e-5, from_initial=True)
        expected = [5 * -math.expm1(-time / 1e-3) for time in course["time"].real]
        assert course["out"] == pytest.approx(expected, abs=1e-3)


BAD = {
    "empty": "",
    "unknown model": "* t\nv1 a 0 5\nd1 a 0 nowhere\n.end\n",
    "unknown element": "* t\nfoo bar\n.end\n",
    "missing value": "* t\nv1 a 0 5\nr1 a b\nr2 b 0 1k\n.end\n",
    "name used twice": "* t\nv1 a 0 5\nr1 a b 1k\nr1 b 0 1k\n.end\n",
    "unknown parameter": "* t\nv1 a 0 5\nd1 a 0 m\n.model m d(is=1e-14 wisdom=3)\n.end\n",
    "unknown subcircuit": "* t\nv1 a 0 5\nx1 a 0 nowhere\n.end\n",
    "commands": "* t\nv1 a 0 5\nr1 a 0 1k\n.control\nquit\n.endc\n.end\n",
    "commands in comments": "* t\nv1 a 0 5\nr1 a 0 1k\n*# quit\n.end\n",
    "other files": "* t\nv1 a 0 5\nr1 a 0 1k\n.include elsewhere.cir\n.end\n",
}
UNSETTLED = {
    "contradicting sources": "* t\nv1 a 0 5\nv2 a 0 6\nr1 a 0 1k\n.end\n",
    "current into a capacitor": "* t\ni1 0 a dc 1m\nc1 a 0 1u\n.end\n",
}


@pytest.mark.ngspice
@needs_library
class TestConduct:
    @pytest.mark.parametrize("netlist", BAD.values(), ids=BAD.keys())
    def test_refuses_and_goes_on(self, worker: NgspiceWorker, netlist: str) -> None:
        with pytest.raises(BadInput):
            worker.operating_point(netlist)
        assert worker.operating_point(DIVIDER)["in"] == pytest.approx(9)

    @pytest.mark.parametrize("netlist", UNSETTLED.values(), ids=UNSETTLED.keys())
    def test_says_unsettled_and_goes_on(self, worker: NgspiceWorker, netlist: str) -> None:
        with pytest.raises(NotSettled):
            worker.operating_point(netlist)
        assert worker.alter_points(netlist, [[]]) == [None]
        assert worker.operating_point(DIVIDER)["in"] == pytest.approx(9)

    @pytest.mark.parametrize(
        "alteration",
        [("alter", "r9", 1.0), ("alter", "r1; shell x", 1.0), ("alter", "r1", math.nan), ("quit", "r1", 1.0)],
    )
    def test_refuses_an_alteration(self, worker: NgspiceWorker, alteration: tuple[str | float, ...]) -> None:
        with pytest.raises(BadInput):
            worker.alter_points(DIVIDER, [[alteration]])

    def test_survives_being_killed(self) -> None:
        with NgspiceWorker() as worker:
            first = worker.process_id
            assert first is not None
            os.kill(first, signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
            assert worker.operating_point(DIVIDER)["in"] == pytest.approx(9)
            assert worker.process_id != first

    def test_stops_a_job_that_takes_too_long(self) -> None:
        with NgspiceWorker(timeout_s=30) as worker:
            worker.operating_point(DIVIDER)  # the start of the process is over
            worker.timeout_s = 0.7
            with pytest.raises(NotSettled, match="no answer"):
                worker.transient(DIVIDER, step=1e-9, stop=100.0)
            worker.timeout_s = 30
            assert worker.operating_point(DIVIDER)["in"] == pytest.approx(9)

    def test_renews_a_worn_process(self) -> None:
        with NgspiceWorker(analyses_per_life=10) as worker:
            worker.alter_points(DIVIDER, [[]] * 8)
            first = worker.process_id
            worker.alter_points(DIVIDER, [[]] * 8)
            assert worker.process_id != first


def test_absent_library_is_said_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(ENVIRONMENT_NAME, "/nowhere/libngspice.so")
    with pytest.raises(NotAvailable) as refusal, NgspiceWorker():
        pass
    assert isinstance(refusal.value, KilterError)
    assert "nowhere" in refusal.value.found
