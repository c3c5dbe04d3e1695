"""
What each leading hypothesis expects of each test not yet done, given the readings already taken.

Where tolerance draws tell how readings of one state move together, a hypothesis' prediction is conditioned on the
readings of that state: its mean moves and its spread shrinks, so a second reading on the same net is worth little. A
reading that is probably an outlier, or that the hypothesis does not predict, counts for little in this. Readings in
other states, and words, leave the spread as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kilter.diagnose.enumerate import Limits
from kilter.diagnose.evidence import Candidate, Evidence, columns, key_of, place_of
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.rows import Predict
from kilter.diagnose.scene_chances import scene_chances
from kilter.diagnose.settings import setting
from kilter.diagnose.weigh import covariance, numbers, spread_of, word_density
from kilter.simulate.prediction import Floats, Hypothesis, Prediction, Scenes

LANES_AT_ONCE = 256


@dataclass(frozen=True)
class Expected:
    """
    The mixture that the asker works on. Its last row is 'not in the model'.

    Args:
        candidates: Length C.
        hypotheses: The leading ones, length H.
        weights: Their probabilities and that of 'not in the model', scaled to add up to one, shape (H + 1,).
        mean: NaN for words. [scaled], shape (H + 1, C)
        spread: Without noise. [scaled], shape (H + 1, C)
        unknown: Chance that the reading could be anything, gross errors left out, shape (H + 1, C).
        words: For a test read as a word, its index to (words, chances with reading errors mixed in, shape (H + 1, K)).
        healthy: (mean, spread) of every numeric test when nothing is wrong, unconditioned. [scaled], shape (2, C)
    """

    candidates: tuple[Candidate, ...]
    hypotheses: tuple[Hypothesis, ...]
    weights: Floats
    mean: Floats
    spread: Floats
    unknown: Floats
    words: dict[int, tuple[tuple[str, ...], Floats]]
    healthy: Floats

    def noise(self) -> Floats:
        """Instrument and model error of each test. [scaled]"""
        return np.array([one.noise for one in self.candidates])

    def width(self) -> Floats:
        """Range of a meaningless reading of each test. [scaled]"""
        return np.array([one.width for one in self.candidates])

    def gross(self) -> Floats:
        """Chance of a gross error of each test."""
        return np.array([one.gross for one in self.candidates])

    def numeric(self) -> NDArray[np.intp]:
        """Places of the tests that are read as numbers."""
        return np.array([c for c in range(len(self.candidates)) if c not in self.words], dtype=np.intp)

    def some(self, rows: NDArray[np.intp], tests: NDArray[np.intp]) -> Expected:
        """A part of the mixture; 'not in the model' has to be among the rows, at the end."""
        weights = self.weights[rows]
        return replace(
            self,
            candidates=tuple(self.candidates[c] for c in tests),
            hypotheses=tuple(self.hypotheses[h] for h in rows[:-1]),
            weights=weights / weights.sum(),
            mean=self.mean[np.ix_(rows, tests)],
            spread=self.spread[np.ix_(rows, tests)],
            unknown=self.unknown[np.ix_(rows, tests)],
            words={i: (self.words[c][0], self.words[c][1][rows]) for i, c in enumerate(tests) if c in self.words},
            healthy=self.healthy[:, tests],
        )


def expect(
    posterior: Posterior,
    predict: Predict,
    evidence: Sequence[Evidence],
    candidates: Sequence[Candidate],
    limits: Limits | None = None,
) -> Expected:
    """
    Builds the mixture for these tests, which the predictions must cover.

    Only the likeliest hypotheses enter, and 'not in the model'; the weights are scaled up for what is left out.

    Args:
        candidates: Tests that may be done: see `kilter.diagnose.ask.open_tests`.
        evidence: The readings behind the posterior, in the same order.
        limits: How much is left out.
    """
    limits = limits or Limits()
    rows = posterior.leading(limits.pruned_mass, limits.asker_hypotheses)
    leaders = [posterior.hypotheses[h] for h in rows]
    predictions = predict([*leaders, frozenset()])
    where = columns(predictions)
    places = [place_of(one.read(), where) for one in candidates]
    table = _Tables(len(leaders), candidates)
    for group, prediction in enumerate(predictions):
        mine = [(c, t) for c, (g, t) in enumerate(places) if g == group]
        if mine:
            table.fill(prediction, mine)
            table.follow_scenes(prediction, evidence, mine)
            table.condition(
                prediction, evidence, posterior.gross[rows], [m for m in mine if m[1] not in prediction.words]
            )
    weights = np.append(posterior.weights[rows], posterior.not_in_model)
    return table.expected(leaders, weights / weights.sum())


class _Tables:
    """The arrays of `Expected` while they are filled state by state."""

    def __init__(self, leaders: int, candidates: Sequence[Candidate]) -> None:
        self.candidates = tuple(candidates)
        self.mean, self.spread, self.unknown = (np.full((leaders + 1, len(candidates)), v) for v in (np.nan, 0.0, 1.0))
        self.words: dict[int, tuple[tuple[str, ...], Floats]] = {}
        self.healthy = np.full((2, len(candidates)), np.nan)

    def fill(self, prediction: Prediction, pairs: Sequence[tuple[int, int]]) -> None:
        """Takes over what the predictor says; its last row is 'nothing wrong' and makes 'not in the model'."""
        like_healthy = setting("healthy_like")
        unknowns = np.where(np.isfinite(prediction.unknown), prediction.unknown, 1.0)
        unknowns[-1] = 1.0 - like_healthy * (1.0 - unknowns[-1])
        for c, t in (pair for pair in pairs if pair[1] in prediction.words):
            names, chances = prediction.words[t]
            self.words[c] = (names, word_density(chances, unknowns[:, t], self.candidates[c].gross))
        read = np.array([pair for pair in pairs if pair[1] not in prediction.words], dtype=np.intp).reshape(-1, 2)
        cs, ts = read.T
        mean, spread = prediction.mean[:, ts], prediction.spread[:, ts]
        blank = ~np.isfinite(mean) | ~np.isfinite(spread)
        self.mean[:, cs] = mean
        self.spread[:, cs] = np.where(blank, 0.0, spread)
        self.unknown[:, cs] = np.where(blank, 1.0, unknowns[:, ts])
        self.healthy[:, cs] = mean[-1], spread[-1]

    def follow_scenes(
        self, prediction: Prediction, evidence: Sequence[Evidence], pairs: Sequence[tuple[int, int]]
    ) -> None:
        """Words that move with words already read: their chances in the scenes that those leave likely."""
        scenes = prediction.scenes
        if scenes is None:
            return
        where = {key_of(test): t for t, test in enumerate(prediction.tests) if t in scenes.chances}
        read = [(one, where[key_of(one.test)]) for one in evidence if key_of(one.test) in where]
        likely = scene_chances(scenes, prediction, read)
        likely[-1] = scenes.shares[-1]  # 'not in the model' is as a healthy board at times, not as these readings say
        likely /= np.maximum(likely.sum(axis=1, keepdims=True), np.finfo(float).tiny)
        now = Scenes(likely, scenes.chances)
        for c, t in pairs:
            if t in scenes.chances:
                unknown = np.zeros(len(likely))
                unknown[-1] = 1.0 - setting("healthy_like")
                self.words[c] = (self.words[c][0], word_density(now.marginal(t), unknown, self.candidates[c].gross))

    def condition(
        self, prediction: Prediction, evidence: Sequence[Evidence], gross: Floats, pairs: Sequence[tuple[int, int]]
    ) -> None:
        """Moves means and shrinks spreads by the numeric readings of the same state."""
        where = {key_of(test): t for t, test in enumerate(prediction.tests) if t not in prediction.words}
        read = [(r, where[key_of(one.test)]) for r, one in enumerate(evidence) if key_of(one.test) in where]
        if prediction.draws is None or not read or not pairs:
            return
        cs, ts = (np.array(column, dtype=np.intp) for column in zip(*pairs, strict=True))
        which = [r for r, _ in read]
        for start in range(0, len(gross), LANES_AT_ONCE):
            rows = slice(start, min(start + LANES_AT_ONCE, len(gross)))
            piece = replace(
                prediction, mean=prediction.mean[rows], spread=prediction.spread[rows],
                unknown=prediction.unknown[rows], draws=prediction.draws[rows], words={},
            )  # fmt: skip
            shift, spread = _conditioned(piece, evidence, read, gross[rows][:, which], ts)
            self.mean[rows, cs] += shift
            self.spread[rows, cs] = np.where(self.unknown[rows, cs] < 1.0, spread, 0.0)

    def expected(self, leaders: Sequence[Hypothesis], weights: Floats) -> Expected:
        return Expected(
            self.candidates, tuple(leaders), weights, self.mean, self.spread, self.unknown, self.words, self.healthy
        )


def _conditioned(
    prediction: Prediction,
    evidence: Sequence[Evidence],
    read: list[tuple[int, int]],
    gross: Floats,
    ts: NDArray[np.intp],
) -> tuple[Floats, Floats]:
    """Shift of the mean and what is left of the spread, shape (H, T) each. [scaled]"""
    assert prediction.draws is not None
    these = numbers(prediction, evidence, read)
    assert these.centred is not None
    matrix = covariance(these.centred, these.noise)
    trust = np.maximum((1.0 - gross) * (1.0 - these.anything) / (1.0 - these.gross), 1e-9)
    places = np.arange(len(read))
    matrix[:, places, places] /= trust
    centred = np.nan_to_num(prediction.draws[:, :, ts] - prediction.draws[:, :, ts].mean(axis=1, keepdims=True))
    draws = centred.shape[1]
    pseudo = draws / (draws + setting("covariance_pseudo_draws"))
    cross = pseudo * (these.centred.transpose(0, 2, 1) @ centred) / max(draws - 1, 1)
    solved = np.linalg.solve(matrix, np.concatenate([these.deviation[:, :, None], cross], axis=2))
    shift = np.einsum("hrt,hr->ht", cross, solved[:, :, 0])
    left = spread_of(centred) ** 2 - np.einsum("hrt,hrt->ht", cross, solved[:, :, 1:])
    return shift, np.sqrt(np.maximum(left, 0.0))
