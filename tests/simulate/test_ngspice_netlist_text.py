"""
Elements written as a netlist mean to ngspice what they mean to us.

Authority: the definitions of the controlled sources and of the transistor's current gain (any circuit textbook),
worked out by hand for circuits of three or four elements; hypothesis for the names.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilter.circuit.board import Element
from kilter.measure.errors import BadInput, NotAvailable
from kilter.simulate.ngspice import NgspiceWorker, spice_text
from kilter.simulate.ngspice.library import find_ngspice
from kilter.simulate.ngspice.names import element_name, net_of, node_name


@pytest.fixture(scope="module")
def worker() -> Iterator[NgspiceWorker]:
    try:
        find_ngspice()
    except NotAvailable:
        pytest.skip("the ngspice shared library is absent")
    with NgspiceWorker() as started:
        yield started


def volts(worker: NgspiceWorker, net: str, *elements: Element) -> float:
    return worker.operating_point(spice_text(elements))[node_name(net)]


LOAD = Element("load", "R", ("out", "0"), 1e3)
DRIVE = Element("drive", "V", ("in", "0"), 2.0)
SENSED = (Element("sense", "V", ("in", "mid"), 0.0), Element("r", "R", ("mid", "0"), 1e3))  # 2 mA


@pytest.mark.ngspice
class TestMeaning:
    @pytest.mark.parametrize(
        ("element", "expected"),
        [
            (Element("x", "E", ("out", "0", "in", "0"), 3.0), 6.0),
            (Element("x", "G", ("0", "out", "in", "0"), 2e-3), 4.0),
            (Element("x", "F", ("0", "out"), 5.0, control="sense"), 10.0),
            (Element("x", "H", ("out", "0"), 700.0, control="sense"), 1.4),
            (Element("x", "I", ("0", "out"), 3e-3), 3.0),
            (Element("x", "L", ("in", "out"), 1e-3), 2.0),
            (Element("x", "C", ("in", "out"), 1e-3), 0.0),
        ],
        ids=lambda value: value.kind if isinstance(value, Element) else None,
    )
    def test_kind(self, worker: NgspiceWorker, element: Element, expected: float) -> None:
        assert volts(worker, "out", DRIVE, *SENSED, LOAD, element) == pytest.approx(expected, rel=1e-9, abs=1e-9)

    @pytest.mark.parametrize("polarity", [1.0, -1.0])
    def test_transistor_gain_and_polarity(self, worker: NgspiceWorker, polarity: float) -> None:
        transistor = Element(
            "Q1", "Q", ("c", "b", "0"), 1.0, model={"is": 1e-15, "bf": 150.0, "polarity": polarity, "vaf": math.inf}
        )
        base = Element("ib", "I", ("0", "b"), polarity * 10e-6)
        supply = Element("vc", "V", ("top", "0"), polarity * 5.0)
        collector = Element("rc", "R", ("top", "c"), 1e3)
        found = volts(worker, "c", supply, base, collector, transistor)
        assert found == pytest.approx(polarity * (5 - 150 * 10e-6 * 1e3), rel=1e-5)

    def test_area_scales_the_junction(self, worker: NgspiceWorker) -> None:
        feed = Element("i", "I", ("0", "out"), 1e-3)
        one, ten = (
            volts(worker, "out", feed, Element("d", "D", ("out", "0"), area, model={"is": 1e-14}))
            for area in (1.0, 10.0)
        )
        assert one - ten == pytest.approx(1.380649e-23 * 300.15 / 1.602176634e-19 * math.log(10), rel=1e-4)

    def test_breakdown(self, worker: NgspiceWorker) -> None:
        zener = Element("z", "D", ("0", "out"), 1.0, model={"is": 1e-14, "bv": 5.6, "ibv": 5e-3})
        feed = Element("i", "I", ("0", "out"), 5e-3)
        assert volts(worker, "out", feed, zener) == pytest.approx(5.6, abs=0.01)

    def test_names_that_would_mislead(self, worker: NgspiceWorker) -> None:
        elements = (
            Element("DZv", "V", ("VCC", "0"), 5.0),
            Element("U1.Q3 load", "R", ("VCC", "gnd"), 1e3),
            Element("7", "R", ("gnd", "0"), 1e3),
        )
        assert volts(worker, "gnd", *elements) == pytest.approx(2.5)


@given(st.text(min_size=1), st.text(min_size=1))
def test_names_are_reversible_and_plain(one: str, other: str) -> None:
    assert net_of(node_name(one)) == one
    assert (node_name(one) == node_name(other)) == (one == other)
    for name in (node_name(one), element_name("R", one)):
        assert set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789_")


@pytest.mark.parametrize(
    "element",
    [
        Element("j1", "J", ("d", "g", "s"), 1.0),
        Element("r1", "R", ("a", "0"), math.nan),
        Element("r1", "R", ("a", "0"), math.inf),
        Element("r1", "R", ("a", "0"), 0.0),
    ],
)
def test_refuses_what_it_cannot_write(element: Element) -> None:
    with pytest.raises(BadInput):
        spice_text([element])
