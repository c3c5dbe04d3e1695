"""
The weigher: how well every hypothesis predicts the readings that were taken.

- A reading is, given a hypothesis, 'as predicted' or 'could be anything': the second with the chance that it is
  grossly wrong or that the prediction is unknown. Anything means evenly over the width of its quantity.
- Numeric readings of one state are jointly Gaussian where tolerance draws tell how they move together
  (kilter.diagnose.joint), else independent. A reading whose prediction is mostly unknown is weighed apart from the
  others.
- Words are independent given the hypothesis.
- Readings in different states multiply. That is an approximation where one tolerance shows in both states: they are
  then counted as if two boards had been read, so a spread shared by two states is believed slightly too readily.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from kilter.diagnose.evidence import Evidence, columns, place_of
from kilter.diagnose.joint import Joint, joint_density
from kilter.diagnose.outliers import HALF_LOG_TAU
from kilter.diagnose.scene_chances import scene_chances
from kilter.diagnose.settings import setting
from kilter.measure.errors import BadInput
from kilter.simulate.prediction import Floats, Prediction


@dataclass(frozen=True)
class Weighed:
    """
    What the readings say about every hypothesis.

    Args:
        log_likelihood: Shape (H,).
        gross: Chance that each reading is grossly wrong given the hypothesis, shape (H, R), in the evidence's order.
        log_peak: Log of the largest density that the hypothesis could have given the reading, whatever its value, with
            the other readings known, shape (H, R).
        log_single: Log density of each reading alone, shape (H, R).
        deviation: Reading less predicted mean, NaN for words and where nothing is predicted. [scaled], shape (H, R)
        sd: Standard deviation that goes with it, noise included. [scaled], shape (H, R)
    """

    log_likelihood: Floats
    gross: Floats
    log_peak: Floats
    log_single: Floats
    deviation: Floats
    sd: Floats

    @classmethod
    def blank(cls, hypotheses: int, readings: int) -> Weighed:
        """Nothing weighed yet."""
        gross, log_peak, log_single = (np.zeros((hypotheses, readings)) for _ in range(3))
        deviation, sd = np.full(gross.shape, np.nan), np.ones(gross.shape)
        return cls(np.zeros(hypotheses), gross, log_peak, log_single, deviation, sd)


@dataclass(frozen=True)
class Numbers:
    """
    The numeric readings of one state beside their predictions.

    Args:
        which: Places of the readings in the evidence, length T.
        deviation: Reading less mean, 0 where nothing is predicted. [scaled], shape (H, T)
        spread: Predicted spread, without noise. [scaled], shape (H, T)
        noise: Instrument and model error. [scaled], shape (T,)
        anything: Chance that the reading could be anything, shape (H, T).
        gross: Chance of a gross error, shape (T,).
        log_width: Shape (T,).
        centred: Tolerance draws less their mean, shape (H, S, T), or None.
    """

    which: NDArray[np.intp]
    deviation: Floats
    spread: Floats
    noise: Floats
    anything: Floats
    gross: Floats
    log_width: Floats
    centred: Floats | None

    def vague(self) -> NDArray[np.bool_]:
        """Where the prediction is mostly unknown, shape (H, T)."""
        return np.asarray(self.anything - self.gross >= setting("unknown_apart") * (1.0 - self.gross))


def together(pieces: Sequence[Weighed]) -> Weighed:
    """Several batches of hypotheses as one."""
    return Weighed(*(np.concatenate([getattr(one, field.name) for one in pieces]) for field in fields(Weighed)))


def some(weighed: Weighed, rows: Sequence[int]) -> Weighed:
    """Some of the hypotheses."""
    return Weighed(*(getattr(weighed, field.name)[list(rows)] for field in fields(Weighed)))


def weigh(predictions: Sequence[Prediction], evidence: Sequence[Evidence]) -> Weighed:
    """
    Weighs all hypotheses of the predictions at once.

    Args:
        predictions: One for each state, all for the same hypotheses in the same order.
        evidence: The readings, in any order.

    Raises:
        BadInput: A reading that nothing predicts, or a word that its test cannot give.
    """
    lanes = len(predictions[0].mean) if predictions else 0
    found = Weighed.blank(lanes, len(evidence))
    where = columns(predictions)
    places = [place_of(one, where) for one in evidence]
    for group, prediction in enumerate(predictions):
        here = [(r, t) for r, (g, t) in enumerate(places) if g == group]
        for r, t in here:
            if t in prediction.words:
                _weigh_word(found, prediction, evidence[r], r, t)
        moving = [(r, t) for r, t in here if prediction.scenes is not None and t in prediction.scenes.chances]
        if prediction.scenes is not None and len(moving) > 1:
            joint = scene_chances(prediction.scenes, prediction, [(evidence[r], t) for r, t in moving]).sum(axis=1)
            found.log_likelihood[:] += np.log(np.maximum(joint, np.finfo(float).tiny))
            found.log_likelihood[:] -= found.log_single[:, [r for r, _ in moving]].sum(axis=1)
        pairs = [(r, t) for r, t in here if t not in prediction.words]
        if pairs:
            _weigh_numbers(found, numbers(prediction, evidence, pairs))
    return found


def numbers(prediction: Prediction, evidence: Sequence[Evidence], pairs: Sequence[tuple[int, int]]) -> Numbers:
    """
    Lines up numeric readings with their predictions.

    Args:
        pairs: (place in the evidence, column of the prediction) of each reading.
    """
    which, cols = (np.array(column, dtype=np.intp) for column in zip(*pairs, strict=True))
    read = [evidence[r] for r in which]
    _refuse_missing(read)
    mean, spread, unknown = (table[:, cols] for table in (prediction.mean, prediction.spread, prediction.unknown))
    blank = ~np.isfinite(mean) | ~np.isfinite(spread)
    gross = np.array([one.gross for one in read])
    anything = 1.0 - (1.0 - gross) * (1.0 - np.where(blank, 1.0, unknown))
    centred = None
    if prediction.draws is not None:
        draws = np.asarray(prediction.draws[:, :, cols], dtype=float)
        centred = draws - draws.mean(axis=1, keepdims=True)
        centred[~np.isfinite(centred)] = 0.0
    return Numbers(
        which=which,
        deviation=np.where(blank, 0.0, np.array([one.value for one in read]) - mean),
        spread=np.where(blank, 0.0, spread),
        noise=np.array([one.noise for one in read]),
        anything=anything,
        gross=gross,
        log_width=np.log([one.width for one in read]),
        centred=centred,
    )


def spread_of(centred: Floats) -> Floats:
    """Standard deviation over centred draws, shape (H, T); 0 where there is one draw only."""
    return np.asarray(np.sqrt((centred**2).sum(axis=1) / max(centred.shape[1] - 1, 1)))


def covariance(centred: Floats, noise: Floats) -> Floats:
    """
    Covariance of readings from tolerance draws, with noise on its diagonal, shape (H, T, T).

    Few draws make readings look more tied than they are, so the off-diagonal part is shrunk by a pseudo-count of draws
    in which nothing moves together.
    """
    draws = centred.shape[1]
    matrix = centred.transpose(0, 2, 1) @ centred / max(draws - 1, 1)
    pseudo = setting("covariance_pseudo_draws")
    diagonal = np.einsum("hii->hi", matrix).copy()
    matrix *= draws / (draws + pseudo)
    places = np.arange(len(noise))
    matrix[:, places, places] = diagonal + noise**2
    return np.asarray(matrix)


def word_density(table: Floats, unknown: Floats, gross: float) -> Floats:
    """
    Chance of each word with gross error and unknown share mixed in, shape (H, K).

    Args:
        table: Predicted chances; they should not contain the unknown share already. Shape (H, K).
        unknown: Shape (H,).
    """
    even = 1.0 / table.shape[1]
    anything = 1.0 - (1.0 - gross) * (1.0 - unknown)
    return np.asarray((1.0 - anything)[:, None] * np.where(np.isnan(table), even, table) + anything[:, None] * even)


def log_outside(
    predictions: Sequence[Prediction], evidence: Sequence[Evidence], healthy: int = 0
) -> tuple[float, Floats]:
    """
    Log likelihood of 'not in the model', in all and for each reading.

    Each reading is, independently, as if nothing were wrong with a share from the settings, else it could be anything.

    Args:
        healthy: Row of the predictions that holds the hypothesis 'nothing wrong'.
    """
    share, where = setting("healthy_like"), columns(predictions)
    logs = np.zeros(len(evidence))
    for r, one in enumerate(evidence):
        group, column = place_of(one, where)
        prediction = predictions[group]
        row = slice(healthy, healthy + 1)
        single = weigh([_only(prediction, row, column)], [one]).log_single[0, 0]
        even = -np.log(len(prediction.words[column][0])) if column in prediction.words else -np.log(one.width)
        logs[r] = np.logaddexp(np.log(share) + single, np.log1p(-share) + even)
    return float(logs.sum()), logs


def _only(prediction: Prediction, row: slice, column: int) -> Prediction:
    words = {}
    if column in prediction.words:
        names, table = prediction.words[column]
        words[0] = (names, table[row])
    mean, spread, unknown = (
        table[row, column : column + 1] for table in (prediction.mean, prediction.spread, prediction.unknown)
    )
    return Prediction((prediction.tests[column],), mean, spread, unknown, words=words)


def _weigh_word(found: Weighed, prediction: Prediction, one: Evidence, r: int, t: int) -> None:
    names, table = prediction.words[t]
    if one.word not in names:
        raise BadInput(
            f"Cannot weigh the reading at {one.test.point} {one.place}".rstrip(),
            f"the {one.test.quantity} '{one.word}'", ", ".join(names), "Use one of these words.",
        )  # fmt: skip
    unknown = np.nan_to_num(prediction.unknown[:, t], nan=1.0)
    chance = np.maximum(word_density(table, unknown, one.gross)[:, names.index(one.word)], np.finfo(float).tiny)
    found.log_single[:, r] = np.log(chance)
    found.log_likelihood[:] += found.log_single[:, r]
    found.gross[:, r] = one.gross / len(names) / chance
    found.log_peak[:, r] = np.log(1.0 - one.gross + one.gross / len(names))


def _weigh_numbers(found: Weighed, these: Numbers) -> None:
    spread = these.spread if these.centred is None else spread_of(these.centred)
    sd = np.sqrt(spread**2 + these.noise**2)
    with np.errstate(divide="ignore"):
        log_in = np.log1p(-these.anything)
        log_out = np.log(these.anything) - these.log_width
    single_in = log_in - 0.5 * (these.deviation / sd) ** 2 - np.log(sd) - HALF_LOG_TAU
    single = np.logaddexp(single_in, log_out)
    outlier, precision = np.exp(log_out - single), 1.0 / sd**2
    if these.centred is None or len(these.which) == 1:
        found.log_likelihood[:] += single.sum(axis=1)
    else:
        apart = these.vague()
        joint = _together(these, apart, log_in, log_out)
        found.log_likelihood[:] += joint.log_density + np.where(apart, single, 0.0).sum(axis=1)
        outlier, precision = np.where(apart, outlier, joint.outlier), np.where(apart, precision, joint.precision)
    share = np.divide(these.gross, these.anything, out=np.zeros_like(these.anything), where=these.anything > 0)
    found.gross[:, these.which] = outlier * share
    with np.errstate(divide="ignore"):
        found.log_peak[:, these.which] = np.logaddexp(log_in + 0.5 * np.log(precision) - HALF_LOG_TAU, log_out)
    found.log_single[:, these.which] = single
    found.deviation[:, these.which] = np.where(these.vague(), np.nan, these.deviation)
    found.sd[:, these.which] = sd


def _together(these: Numbers, apart: NDArray[np.bool_], log_in: Floats, log_out: Floats) -> Joint:
    assert these.centred is not None
    matrix = covariance(np.where(apart[:, None, :], 0.0, these.centred), these.noise)
    diagonal = np.arange(len(these.which))
    matrix[:, diagonal, diagonal] = np.where(apart, 1.0, matrix[:, diagonal, diagonal])
    return joint_density(
        np.where(apart, 0.0, these.deviation),
        matrix,
        np.where(apart, HALF_LOG_TAU, log_in),
        np.where(apart, -np.inf, log_out),
    )


def _refuse_missing(read: Sequence[Evidence]) -> None:
    for one in read:
        if not np.isfinite(one.value) or one.width <= 0 or one.noise <= 0:
            raise BadInput(
                f"Cannot weigh the reading at {one.test.point} {one.place}".rstrip(),
                f"value {one.value}, uncertainty {one.sd}, width {one.width} (on the scale of {one.test.quantity})",
                "a finite value, an uncertainty of zero or more and a width above zero",
                "Give the reading as a number; over limit is put at the top of the scale.",
            )
