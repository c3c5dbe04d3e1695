"""
The weigher against a posterior worked out by brute force: Bayes' rule over every fault set of a ladder of resistors.

The reference (exact_ladder.py) knows nothing of engine, covariance or search: closed-form circuit, a thousand boards a
fault set, readings of all states tied through the same parts. Tolerance, meter errors, priors and sizes of faults are
those that Kilter believes. With Gaussian weights from fourteen boards single calls scatter about the exact ones, by
some ten points where suspects look alike; what must not be is a lean to one side (design/calibration.md).
"""

import numpy as np
import pytest
from exact_ladder import LANES, NETLIST, NOMINAL, log_likelihood, readings_of, sets_of, values_of
from scipy.special import logsumexp

from kilter.diagnose.enumerate import Limits
from kilter.diagnose.priors import priors_of
from kilter.importers.load import load_board
from kilter.measure.instruments import instrument
from kilter.measure.scales import from_scale, to_scale
from kilter.parts.kinds import modes_of
from kilter.records.reading import Reading
from kilter.services.diagnose import Diagnoser
from kilter.services.evidence_of import evidence_of, make_test
from kilter.simulate.circuit.constants import engine_number

VISITS, MOST = 60, 2


class Ladder:
    """The board, every fault set with its boards, and both posteriors."""

    def __init__(self, folder):
        path = folder / "ladder.cir"
        path.write_text(NETLIST, encoding="utf-8")
        self.board = load_board(path)
        self.priors = priors_of(self.board, not_working=True)
        self.sets = list(sets_of(self.priors.faults(), MOST))
        self.log_prior = self.priors.of(self.sets)
        self.diagnoser = Diagnoser(self.board, power_checks=True, not_working=True, limits=Limits(max_faults=MOST))
        random = np.random.default_rng(5)
        self.lanes = [self.read(one, random, LANES) for one in self.sets]
        self.tests = {key: self.test(key) for key in self.lanes[0]}

    def read(self, one, random, lanes):
        modes = {mode.key: changed(mode) for mode in modes_of(self.board.parts["R1"])}
        values = values_of(
            one, random, lanes, tolerance=0.05, drift_ln=engine_number("drift_size_ln"),
            bridge_ln=engine_number("bridge_size_ln"), modes=modes,
        )  # fmt: skip
        supply = 9.0 * np.exp(engine_number("source_spread") / 2.0 * random.standard_normal(lanes))
        return {key: to_scale(key[0], value) for key, value in readings_of(values, supply).items()}

    def test(self, key):
        quantity, point = key
        meter = "supply_meter" if quantity == "current" else "dmm"
        return make_test(self.board, point, quantity, "off" if quantity == "resistance" else "on", meter)

    def reading(self, key, scaled):
        test = self.tests[key]
        value = float(np.asarray(from_scale(key[0], [scaled]))[0])
        sd = instrument(test.instrument).standard_uncertainty(test.quantity, value)
        return Reading(test.point, test.quantity, value, "", sd, test.state, test.instrument)

    def visit(self, number):
        """One to five readings of an object with faults drawn by the priors; noise and gross errors as believed."""
        random = np.random.default_rng([77, number])
        faulty = np.where([bool(one) for one in self.sets], self.log_prior, -np.inf)
        shares = np.exp(faulty - logsumexp(faulty))
        true = self.read(self.sets[int(random.choice(len(self.sets), p=shares))], random, 1)
        keys = list(self.tests)
        chosen = [keys[n] for n in sorted(random.choice(len(keys), int(random.integers(1, 6)), replace=False))]
        found = []
        for key in chosen:
            e = evidence_of(self.board, self.reading(key, true[key][0]))
            gross = random.random() < e.gross
            scaled = random.random() * e.width if gross else e.value + e.noise * random.standard_normal()
            found.append((key, self.reading(key, scaled)))
        return found

    def exact(self, readings, posterior, *, gross=None):
        """Probability of each set, of 'not in the model' last; what that gives each reading is the weigher's own."""
        es = [(key, evidence_of(self.board, reading)) for key, reading in readings]
        rows = [(key, e.value, e.noise, e.gross if gross is None else gross, e.width) for key, e in es]
        logs = self.log_prior + [log_likelihood(lanes, rows) for lanes in self.lanes]
        logs = np.append(logs, self.priors.log_outside + posterior.log_outside.sum())
        return np.exp(logs - logsumexp(logs))

    def parts(self, shares):
        pairs = list(zip(self.sets, shares[:-1], strict=True))
        return np.array([sum(share for one, share in pairs if part in dict(one)) for part in NOMINAL])


def changed(mode):
    change = mode.circuit[0]
    return change.verb, change.amount


@pytest.fixture(scope="module")
def compared(tmp_path_factory):
    """Calls of four resistors, then of 'nothing' and 'not in the model': Kilter's, exact, exact with a wrong share."""
    ladder, rows = Ladder(tmp_path_factory.mktemp("ladder")), []
    for number in range(VISITS):
        readings = ladder.visit(number)
        ours = ladder.diagnoser.posterior([reading for _, reading in readings])
        called = ours.parts()
        row = [[*(called.get(part, 0.0) for part in NOMINAL), ours.healthy, ours.not_in_model]]
        for gross in (None, 0.3):
            shares = ladder.exact(readings, ours, gross=gross)
            row.append([*ladder.parts(shares), shares[ladder.sets.index(frozenset())], shares[-1]])
        rows.append(row)
    return np.array(rows).transpose(1, 0, 2)


def test_calls_lean_to_neither_side_of_the_exact_posterior(compared):
    ours, exact, _ = compared
    assert ours.mean(axis=(0,))[:4] == pytest.approx(exact.mean(axis=0)[:4], abs=0.02)
    assert ours[:, 4:].mean(axis=0) == pytest.approx(exact[:, 4:].mean(axis=0), abs=0.02)
    called, true = ours[:, :4].ravel(), exact[:, :4].ravel()
    middle = (called > 0.2) & (called < 0.8)
    assert middle.sum() >= 12
    scatter = (true - called)[middle]
    assert abs(scatter.mean()) < max(0.03, 3 * scatter.std() / np.sqrt(middle.sum()))
    assert (called < 0.05).sum() > 40
    assert (true - called)[called < 0.05].mean() == pytest.approx(0.0, abs=0.005)


def test_single_calls_come_near_it_and_the_check_can_tell(compared):
    """Within five points rms over all calls; believing the readings too little is farther off than that."""
    ours, exact, doubting = compared
    near = np.sqrt(((ours - exact) ** 2).mean())
    assert near < 0.05
    assert np.sqrt(((ours - doubting) ** 2).mean()) > 1.5 * near
