"""
Answers of ngspice are put back into the equations before they are believed.

Authority: Kirchhoff's laws, with the numbers of each circuit worked out by hand.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from kilter.circuit.board import Element
from kilter.measure.errors import NotAvailable
from kilter.simulate.ngspice import NgspiceWorker, NotSettled, net_voltages, spice_text
from kilter.simulate.ngspice.library import find_ngspice
from kilter.simulate.ngspice.names import node_name
from kilter.simulate.ngspice.soundness import unsound

LADDER = (
    Element("v", "V", ("top", "0"), 10.0),
    Element("e", "E", ("twice", "0", "mid", "0"), 2.0),
    Element("h", "H", ("seen", "0"), 100.0, control="v"),
    Element("f", "F", ("0", "copied"), 1.0, control="v"),
    Element("g", "G", ("0", "fed"), 1e-3),
    Element("r1", "R", ("top", "mid"), 1e3),
    Element("r2", "R", ("mid", "0"), 1e3),
    Element("l", "L", ("twice", "far"), 1e-3),
    Element("r3", "R", ("far", "0"), 1e3),
    Element("r4", "R", ("seen", "0"), 1e3),
    Element("r5", "R", ("copied", "0"), 1e3),
    Element("r6", "R", ("fed", "0"), 1e3),
    Element("d", "D", ("mid", "clamp"), 1.0, model={"is": 1e-14}),
    Element("r7", "R", ("clamp", "0"), 1e9),
)
ELEMENTS = tuple(
    Element("g", "G", (*element.nodes, "mid", "0"), 1e-3) if element.kind == "G" else element for element in LADDER
)
EXPECTED = {"top": 10.0, "mid": 5.0, "twice": 10.0, "far": 10.0, "seen": -0.5, "copied": -5.0, "fed": 5.0}


@pytest.fixture(scope="module")
def worker() -> Iterator[NgspiceWorker]:
    try:
        find_ngspice()
    except NotAvailable:
        pytest.skip("the ngspice shared library is absent")
    with NgspiceWorker() as started:
        yield started


@pytest.mark.ngspice
class TestSoundness:
    def test_right_answer_passes(self, worker: NgspiceWorker) -> None:
        volts = net_voltages(worker, ELEMENTS)
        assert {net: volts[net] for net in EXPECTED} == pytest.approx(EXPECTED, rel=1e-4)  # 5 nA leave through d

    @pytest.mark.parametrize("net", EXPECTED)
    def test_any_wrong_net_is_noticed(self, worker: NgspiceWorker, net: str) -> None:
        point = worker.operating_point(spice_text(ELEMENTS))
        assert unsound(ELEMENTS, point) == ""
        point[node_name(net)] += 0.01  # at 'mid' a junction ends, but the sources that follow it give it away
        assert unsound(ELEMENTS, point)

    def test_any_wrong_current_is_noticed(self, worker: NgspiceWorker) -> None:
        point = worker.operating_point(spice_text(ELEMENTS))
        for name in [name for name in point if name.endswith("#branch")]:
            wrong = point | {name: point[name] + 1e-4}
            assert unsound(ELEMENTS, wrong), name

    def test_contradiction_is_not_settled(self, worker: NgspiceWorker) -> None:
        elements = (Element("a", "V", ("x", "0"), 1.0), Element("b", "V", ("x", "0"), 2.0))
        with pytest.raises(NotSettled):
            net_voltages(worker, elements)

    def test_unsound_answers_of_every_pivot_order_are_refused(self) -> None:
        class Liar(NgspiceWorker):
            asked: list[str] = []  # noqa: RUF012 - one list for the one instance of this test

            def operating_point(self, netlist: str) -> dict[str, float]:
                self.asked.append(netlist)
                return {node_name("x"): 4.0, "vv#branch": 0.0}

        elements = (Element("v", "V", ("x", "0"), 5.0), Element("r", "R", ("x", "0"), 1e3))
        with pytest.raises(NotSettled, match="misses its voltage"):
            net_voltages(Liar(), elements, pivots=(0.001, 0.5))
        assert ["pivrel=0.001" in text for text in Liar.asked] == [True, False]
