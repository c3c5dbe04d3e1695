"""Small boards made of hand-written predictions, for the tests of this folder."""

import numpy as np

from kilter.diagnose.ask import ask, open_tests
from kilter.diagnose.cost import Bench
from kilter.diagnose.evidence import Evidence
from kilter.diagnose.expect import expect
from kilter.records.test import Test
from kilter.simulate.prediction import Prediction


def word_test(point, state="on"):
    return Test(point, "level", state)


def word_predict(points, words, chances, states=None):
    """A `predict` for tests read as words; chances(hypothesis, point) gives the probabilities of the words."""
    tests = tuple(word_test(point, (states or {}).get(point, "on")) for point in points)

    def predict(hypotheses):
        shape = (len(hypotheses), len(tests))
        tables = {
            t: (
                tuple(words),
                np.array([chances(h, point) for h in hypotheses], dtype=float).reshape(len(hypotheses), -1),
            )
            for t, point in enumerate(points)
        }
        return [Prediction(tests, np.full(shape, np.nan), np.zeros(shape), np.zeros(shape), words=tables)]

    return predict


def word_read(point, word, outlier=0.0):
    return Evidence(word_test(point), word=word, outlier=outlier)


def noisy_or_board(random, parts, functions, miss=0.05, false_alarm=0.02):
    """Random functions of two to four parts; each is tested once and reads 'wrong' if any of its parts is faulty."""
    members = [set(random.choice(parts, random.integers(2, 5), replace=False)) for _ in range(functions)]
    names = [f"P{i}" for i in range(parts)]
    shares = np.exp(random.normal(-3, 1, parts)).clip(1e-3, 0.4)
    odds = {(name, "dead"): float(share) for name, share in zip(names, shares, strict=True)}
    points = [f"f{j}" for j in range(functions)]

    def chances(hypothesis, point):
        faulty = {int(part[1:]) for part, _ in hypothesis} & members[int(point[1:])]
        wrong = 1 - miss if faulty else false_alarm
        return (1 - wrong, wrong)

    return odds, members, points, word_predict(points, ("fine", "wrong"), chances)


POLYBOX_VALUES = tuple(str(v) for v in range(16))


def polybox():
    """
    The board of de Kleer and Williams 1987 (Artificial Intelligence 32): three multipliers, two adders.

    A broken part puts out any of 16 values, one mode each, so that a shared wrong value couples what depends on it.
    Arithmetic is modulo 16; A=3 B=2 C=2 D=3 E=3.
    """
    shares = {(part, str(v)): 0.01 / 16 for part in ("M1", "M2", "M3", "A1", "A2") for v in range(16)}

    def values(hypothesis):
        stuck = {part: int(mode) for part, mode in hypothesis}
        x, y, z = stuck.get("M1", 3 * 2), stuck.get("M2", 2 * 3), stuck.get("M3", 2 * 3)
        return {"X": x, "Y": y, "Z": z, "F": stuck.get("A1", (x + y) % 16), "G": stuck.get("A2", (y + z) % 16)}

    def chances(hypothesis, point):
        return np.eye(16)[values(hypothesis)[point]]

    return shares, word_predict(("F", "G", "X", "Y", "Z"), POLYBOX_VALUES, chances)


def asked(posterior, predict, evidence, candidates, bench=None, **more):
    """Filters, expectation and ranking in one go."""
    bench = bench or Bench()
    tests = open_tests(posterior, evidence, candidates, bench)
    return ask(posterior, expect(posterior, predict, evidence, tests), evidence, bench, **more)


def number_test(point, state="on", **more):
    return Test(point, "voltage", state, **more)


def number_predict(points, means, spread=0.1, draws=None, unknown=None, state="on"):
    """
    A `predict` for voltages from a table: means[hypothesis][point], every other hypothesis as the sum of its shifts.

    Args:
        means: Hypothesis to a list of means; must hold the empty set. Sets that are missing add up single shifts.
        draws: Tolerance shifts added to every mean, shape (S, T), or None.
        unknown: Hypothesis to a list of unknown shares.
    """
    tests = tuple(number_test(point, state) for point in points)
    healthy = np.array(means[frozenset()], dtype=float)

    def mean_of(one):
        if one in means:
            return np.array(means[one], dtype=float)
        return healthy + sum(np.array(means[frozenset({fault})]) - healthy for fault in one)

    def predict(hypotheses):
        mean = np.array([mean_of(one) for one in hypotheses]).reshape(-1, len(points))
        anything = np.array([(unknown or {}).get(one, np.zeros(len(points))) for one in hypotheses]).reshape(mean.shape)
        cloud = None if draws is None else mean[:, None, :] + draws[None]
        sd = np.full(mean.shape, spread) if draws is None else np.broadcast_to(draws.std(axis=0, ddof=1), mean.shape)
        return [Prediction(tests, mean, sd.copy(), anything, draws=cloud)]

    return predict


def number_read(point, value, sd=0.02, width=20.0, state="on", **more):
    return Evidence(number_test(point, state), value, sd=sd, width=width, **more)
