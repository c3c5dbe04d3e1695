"""
The state-variable filter of the ITC'97 set: its response in closed form, its fault list, and a small diagnosis trial.

Outside sources: the public page of the set (values, sigmas, faults); the op-amp equations by hand; ngspice for every
object that is diagnosed. The full trial is benchmarks/itc97.py; thresholds here lie three standard errors of so few
objects below what it gave, so that a worse engine fails and another seed does not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
import pytest
from state_variable import HERTZ, OUTPUTS, SIGMA, Object, filter_board, predicted_response, published_faults
from trial import Bench, Verdict, ambiguity_groups, objects, separation, weighed

from kilter.measure.errors import NotAvailable
from kilter.measure.scales import from_scale
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.diagnose import Diagnoser
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.ngspice import NgspiceWorker
from kilter.simulate.ngspice.library import find_ngspice
from kilter.simulate.prediction import Fault, Hypothesis

PAIRS = ({"R4", "C1"}, {"R5", "C2"}, {"R6", "R7"})
"""Values that the closed-form response holds only as a product or a ratio: no output can tell their drifts apart."""


@pytest.fixture(scope="module")
def some() -> Iterator[list[Object]]:
    """Two objects with each fault, built by ngspice."""
    try:
        find_ngspice()
    except NotAvailable:
        pytest.skip("the ngspice shared library is absent")
    with NgspiceWorker() as worker:
        yield list(objects(worker, each=2, seed=97))


def _values(fault: Fault | None = None) -> dict[str, float]:
    """Nominal values, one of them drifted."""
    values = {ref: filter_board().parts[ref].number or 0.0 for ref in SIGMA}
    if fault is not None:
        values[fault[0]] *= float(fault[1].removeprefix("value x"))
    return values


def test_fault_list_as_published() -> None:
    """14 hard faults of resistors, 4 of capacitors, and 18 soft faults at these values."""
    faults, board = published_faults(), filter_board()
    assert len([f for f in faults["hard"] if f[0].startswith("R")]) == 14
    assert len([f for f in faults["hard"] if f[0].startswith("C")]) == 4
    assert len(faults["soft"]) == 18
    values = sorted(_values(fault)[fault[0]] for fault in faults["soft"] if fault[0] in ("R1", "R6", "R7", "C1", "C2"))
    published = [14e-9, 26e-9, 16.4e-9, 23.6e-9, 2.46e3, 3.54e3, 5.74e3, 8.26e3, 8.2e3, 11.8e3]
    assert values == pytest.approx(sorted(published))
    assert board.parts["R1"].tolerance == pytest.approx(2 * 300 / 10e3)


def test_centre_of_the_band_pass() -> None:
    """At 1/(2 pi 10k 20n) = 796 Hz high- and low-pass are of one size, a quarter turn from the band-pass."""
    at_centre = predicted_response(np.array([1 / (2 * np.pi * 10e3 * 20e-9)]), _values())
    assert abs(at_centre["hp"][0]) == pytest.approx(abs(at_centre["lp"][0]), rel=1e-9)
    assert (at_centre["bp"][0] / at_centre["hp"][0]).real == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("fault", [None, *published_faults()["soft"]], ids=lambda fault: fault and ":".join(fault))
def test_predicted_signals_in_closed_form(fault: Fault | None) -> None:
    """Peak to peak at the outputs within 1 % + 1 mV of ideal op-amps; the macro-model's bandwidth is 1 MHz."""
    board = filter_board()
    hypothesis: Hypothesis = frozenset({fault}) if fault else frozenset()
    for state, hertz in HERTZ.items():
        if hertz:
            tests = [Test(point, "signal", state, "scope") for point in OUTPUTS]
            found = CircuitPredictor(1).predict(board, board.states[state], [hypothesis], tests)
            ideal = predicted_response(np.array([hertz]), _values(fault))
            wanted = [2.0 * abs(ideal[point][0]) for point in OUTPUTS]
            assert from_scale("signal", found.mean[0]) == pytest.approx(wanted, rel=1e-2, abs=1e-3)


class TestAmbiguityGroups:
    @pytest.mark.parametrize("pair", PAIRS, ids=sorted)
    def test_the_closed_form_holds_product_or_ratio_only(self, pair: set[str]) -> None:
        """Both values doubled, or one doubled and the other halved, leave the response as it is."""
        hertz, one, other = np.geomspace(20.0, 20e3, 30), *sorted(pair)
        factors = (2.0, 2.0) if pair == {"R6", "R7"} else (2.0, 0.5)
        moved = _values() | {ref: _values()[ref] * factor for ref, factor in zip((one, other), factors, strict=True)}
        before, after = predicted_response(hertz, _values()), predicted_response(hertz, moved)
        assert all(np.allclose(before[key], after[key], rtol=1e-9) for key in OUTPUTS)

    @pytest.mark.parametrize("points", ["outputs", "all nodes"])
    def test_soft_faults_that_cannot_be_told_apart_are_such_pairs(self, points: str) -> None:
        """Every group found from the predictions lies inside one of the pairs, and R5 with C2, R6 with R7 are found."""
        bench, faults = Bench(points=points), published_faults()["soft"]
        groups = [{part for part, _ in group} for group in ambiguity_groups(faults, separation(bench, faults))]
        assert all(any(group <= pair for pair in PAIRS) for group in groups)
        assert {"C2", "R5"} in groups
        assert {"R6", "R7"} in groups


def _share(verdicts: Sequence[Verdict], group: str, measure: str) -> float:
    return float(np.mean([getattr(one, measure) for one in verdicts if one.group == group]))


@pytest.mark.ngspice
class TestTrial:
    def test_outputs_only(self, some: list[Object]) -> None:
        """Three outputs, oscilloscope and hand-held meter."""
        verdicts = weighed(Bench(), some, seed=11)
        assert _share(verdicts, "hard", "right_or_tied") >= 0.92
        assert _share(verdicts, "soft", "right_or_tied") >= 0.88
        assert _share(verdicts, "op-amp", "right_or_tied") >= 0.95
        assert _share(verdicts, "hard", "right") >= 0.67
        assert _share(verdicts, "soft", "right") >= 0.50

    def test_all_nodes(self, some: list[Object]) -> None:
        """Five more nets tell hard faults apart that the outputs do not."""
        outputs, nodes = (weighed(Bench(points=points), some, seed=11) for points in ("outputs", "all nodes"))
        assert _share(nodes, "hard", "right") >= 0.88
        assert _share(nodes, "op-amp", "right") >= 0.94
        assert _share(nodes, "hard", "true_share") > _share(outputs, "hard", "true_share")

    def test_probabilities_mean_what_they_say(self, some: list[Object]) -> None:
        """The mean probability given to the first part is its share of successes, within three standard errors."""
        verdicts = weighed(Bench(), some, seed=11)
        claimed = np.array([one.true_share for one in verdicts])
        right = np.array([one.right for one in verdicts])
        assert abs(claimed.mean() - right.mean()) < 3 * 0.5 / np.sqrt(len(verdicts))

    def test_hard_faults_are_never_missed(self, some: list[Object]) -> None:
        """No open or short leaves 'nothing wrong' or 'not in the model' ahead of every part."""
        assert _share(weighed(Bench(), some, seed=11), "hard", "missed") == 0.0

    def test_sizes_of_drift_nobody_wrote_down(self, some: list[Object]) -> None:
        """A grid of sizes that holds none of the true ones loses little; the kinds' wide drifts lose more."""
        grid, kind = (weighed(Bench(drifts=drifts), some, seed=11) for drifts in ("grid", "kind"))
        assert _share(grid, "soft", "right_or_tied") >= 0.85
        assert _share(kind, "soft", "right_or_tied") < _share(grid, "soft", "right_or_tied")

    def test_through_the_whole_diagnosis(self, some: list[Object]) -> None:
        """One opened capacitor, all output readings, every fault set of the usual search: it leads."""
        one = next(one for one in some if one.fault == ("C1", "open"))
        readings = [
            Reading(point, "signal", one.reads[point, state], uncertainty=0.03 * one.reads[point, state] + 1e-3,
                    state=state, instrument="scope")
            for state, hertz in HERTZ.items() if hertz for point in OUTPUTS
        ]  # fmt: skip
        found = Diagnoser(filter_board(), two_steps=False).diagnose(readings)
        assert found.suspects[0].part == "C1"
        assert found.unsettled == 0


def test_separation_is_symmetric_and_grows_with_better_readings() -> None:
    """Finer readings never bring two faults closer together."""
    faults = published_faults()["soft"][:8]
    coarse, fine = (separation(Bench(fine=fine), faults) for fine in (False, True))
    assert np.allclose(coarse, coarse.T)
    assert all(fine[a, b] >= coarse[a, b] - 1e-9 for a, b in combinations(range(len(faults)), 2))
