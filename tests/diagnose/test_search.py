"""Best-first search over large spaces: two real faults, masking, and what is said about the part not visited."""

import numpy as np
import pytest
from test_weigh import NONE

from boards import number_predict, number_read
from kilter.diagnose.enumerate import Limits, search
from kilter.diagnose.priors import priors
from kilter.simulate.prediction import Prediction

PARTS = 150
FAULTS = [(f"P{i}", mode) for i in range(PARTS) for mode in ("open", "short")]
POINTS = tuple(f"t{i}" for i in range(PARTS))
LIMITS = Limits(complete_limit=100, work_limit=2500)


def means():
    """Each fault shifts its own point and, half as much, the next one."""
    table = {NONE: [5.0] * PARTS}
    for part, mode in FAULTS:
        i, way = int(part[1:]), 1.0 if mode == "open" else -1.0
        row = np.full(PARTS, 5.0)
        row[i], row[(i + 1) % PARTS] = 5.0 + 3.0 * way, 5.0 + 1.5 * way
        table[frozenset({(part, mode)})] = list(row)
    return table


def read(truth, points):
    predict = number_predict(POINTS, means())
    values = predict([truth])[0].mean[0]
    return predict, [number_read(f"t{i}", float(values[i])) for i in points]


@pytest.mark.parametrize(
    ("first", "second"), [(("P20", "open"), ("P90", "short")), (("P3", "short"), ("P140", "open"))]
)
def test_two_faults_among_three_hundred_are_found(first, second):
    """45,000 fault sets of two, 4.5 million of three; 2,500 visited."""
    places = (int(first[0][1:]), int(first[0][1:]) + 1, int(second[0][1:]), int(second[0][1:]) + 1, 60, 61)
    predict, evidence = read(frozenset({first, second}), places)
    found = search(predict, priors(dict.fromkeys(FAULTS, 0.003)), evidence, limits=LIMITS)
    assert found.parts()[first[0]] > 0.95
    assert found.parts()[second[0]] > 0.95
    assert {first, second} <= found.hypotheses[0]


def test_three_faults_are_found():
    truth = frozenset({("P10", "open"), ("P50", "short"), ("P100", "open")})
    predict, evidence = read(truth, (10, 11, 50, 51, 100, 101))
    found = search(predict, priors(dict.fromkeys(FAULTS, 0.003)), evidence, limits=LIMITS)
    assert found.hypotheses[0] == truth


def test_a_fault_that_masks_the_rest_leaves_the_rest_open():
    """With the fuse open every point reads 0 V, whatever else is wrong: other parts keep about their prior."""
    points = ("a", "b", "c")
    shares = {("F1", "open"): 0.02, ("R1", "open"): 0.05, ("R2", "open"): 0.05}

    def predict(hypotheses):
        mean = np.zeros((len(hypotheses), 3))
        for h, one in enumerate(hypotheses):
            if ("F1", "open") not in one:
                mean[h] = [5.0, 0.0 if ("R1", "open") in one else 3.0, 0.0 if ("R2", "open") in one else 2.0]
        base = number_predict(points, {NONE: [5.0, 3.0, 2.0]})([NONE])[0]
        return [Prediction(base.tests, mean, np.full(mean.shape, 0.05), np.zeros(mean.shape))]

    evidence = [number_read(point, 0.0) for point in points]
    found = search(predict, priors(shares), evidence)
    assert found.parts()["F1"] > 0.95
    assert found.parts()["R1"] == pytest.approx(0.05, abs=0.03)


def test_what_was_not_visited_is_told():
    predict, evidence = read(frozenset({("P20", "open")}), (20, 21, 60))
    odds = priors(dict.fromkeys(FAULTS, 0.003))
    short = search(predict, odds, evidence, limits=Limits(complete_limit=100, work_limit=400))
    long = search(predict, odds, evidence, limits=Limits(complete_limit=100, work_limit=3000))
    assert 0.0 <= short.visited_mass <= short.visited_estimate <= long.visited_estimate <= 1.0
    assert short.visited_estimate < 0.999
    assert 0.0 < long.prior_beyond < 1.0
    assert long.visited_mass < 1.0


@pytest.mark.parametrize("seed", range(4))
def test_the_bound_on_what_was_not_visited_holds(seed):
    """Ten parts, all sets of up to three visited as the reference; then only the singles and forty more."""
    random = np.random.default_rng(seed)
    faults = [(f"P{i}", "open") for i in range(10)]
    table = {NONE: [5.0] * 6} | {
        frozenset({f}): list(5.0 + random.normal(0, 2, 6) * (random.random(6) < 0.4)) for f in faults
    }
    predict = number_predict(POINTS[:6], table, draws=random.normal(0, 0.1, (40, 6)))
    truth = frozenset({faults[1], faults[4]})
    evidence = [number_read(f"t{i}", float(predict([truth])[0].mean[0, i])) for i in range(6)]
    odds = priors(dict.fromkeys(faults, 0.05), outside=0.0)
    every = search(predict, odds, evidence)
    part = search(
        predict, odds, evidence, limits=Limits(complete_limit=5, work_limit=50, batch=20, unvisited_tolerance=0)
    )
    assert every.visited_mass == 1.0
    visited = set(part.hypotheses)
    share = sum(w for one, w in zip(every.hypotheses, every.weights, strict=True) if one in visited)
    assert part.visited_mass <= share + 1e-9
    assert part.hypotheses[0] == every.hypotheses[0]


def test_the_search_does_not_depend_on_the_size_of_its_batches():
    predict, evidence = read(frozenset({("P20", "open"), ("P90", "short")}), (20, 21, 90, 91))
    odds = priors(dict.fromkeys(FAULTS, 0.003))
    shares = [
        search(predict, odds, evidence, limits=Limits(complete_limit=100, work_limit=2000, batch=batch)).parts()
        for batch in (64, 512)
    ]
    for part in ("P20", "P90"):
        assert shares[0][part] == pytest.approx(shares[1][part], abs=0.02)
