"""Posteriors of random noisy boards against exact inference by pyAgrum, with every fault set visited."""

import numpy as np
import pytest

from boards import noisy_or_board, word_read
from kilter.diagnose.enumerate import Limits, search
from kilter.diagnose.priors import priors

gum = pytest.importorskip("pyagrum", reason="the outside Bayes-net library is not installed")


def network(odds, members, miss=0.05, false_alarm=0.02):
    net = gum.BayesNet("board")
    for (part, _), share in odds.items():
        net.add(gum.LabelizedVariable(part, part, 2))
        net.cpt(part).fillWith([1 - share, share])
    for j, group in enumerate(members):
        net.addOR(gum.LabelizedVariable(f"g{j}", f"g{j}", 2))
        for i in sorted(group):
            net.addArc(f"P{i}", f"g{j}")
        net.add(gum.LabelizedVariable(f"f{j}", f"f{j}", 2))
        net.addArc(f"g{j}", f"f{j}")
        net.cpt(f"f{j}")[{f"g{j}": 0}] = [1 - false_alarm, false_alarm]
        net.cpt(f"f{j}")[{f"g{j}": 1}] = [miss, 1 - miss]
    return net


@pytest.mark.parametrize("seed", range(6))
def test_marginals_equal_exact_inference(seed):
    random = np.random.default_rng(seed)
    odds, members, points, predict = noisy_or_board(random, parts=8, functions=7)
    read = {point: int(random.random() < 0.4) for point in points}
    evidence = [word_read(point, ("fine", "wrong")[bad]) for point, bad in read.items()]
    found = search(predict, priors(odds, outside=0.0), evidence, limits=Limits(max_faults=8))
    exact = gum.LazyPropagation(network(odds, members))
    exact.setEvidence(read)
    exact.makeInference()
    ours = found.parts()
    for part, _ in odds:
        assert ours[part] == pytest.approx(float(exact.posterior(part)[1]), abs=1e-6)
    assert found.visited_mass == 1.0
    assert found.prior_beyond == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_best_first_search_comes_close_with_part_of_the_space(seed):
    """Twelve parts have 4,096 fault sets; 600 visited ones must give the marginals to 0.02 and say what is missing."""
    random = np.random.default_rng(100 + seed)
    odds, members, points, predict = noisy_or_board(random, parts=12, functions=10)
    read = {point: int(random.random() < 0.3) for point in points}
    evidence = [word_read(point, ("fine", "wrong")[bad]) for point, bad in read.items()]
    limits = Limits(max_faults=6, complete_limit=10, work_limit=600, batch=64, unvisited_tolerance=1e-6)
    found = search(predict, priors(odds, outside=0.0), evidence, limits=limits)
    exact = gum.LazyPropagation(network(odds, members))
    exact.setEvidence(read)
    exact.makeInference()
    ours = found.parts()
    assert max(abs(ours[part] - float(exact.posterior(part)[1])) for part, _ in odds) < 0.02
    true_share = np.exp(np.logaddexp.reduce(found.log_prior + found.log_likelihood)) / exact.evidenceProbability()
    assert found.visited_mass <= true_share + 1e-9
    assert found.visited_estimate < 1.0
