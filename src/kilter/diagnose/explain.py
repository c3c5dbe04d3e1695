"""
Why a part is suspected: how strongly each reading speaks for or against it, and which readings nothing explains.

The weight of a reading is log10 of its density under the hypotheses that hold the suspect over its density under all
others, each averaged with the prior. It is the reading's own weight, taken alone: readings that move together do not
add up exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kilter.diagnose.evidence import Evidence, columns, place_of
from kilter.diagnose.outlook import band_words, likely_words
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.rows import Predict
from kilter.diagnose.settings import setting
from kilter.diagnose.weigh import weigh
from kilter.simulate.prediction import Floats, Prediction

MOST_SETS = 12
"""Likeliest fault sets of a part that its reasons are averaged over."""
STRENGTHS = ((2.0, "decisively"), (1.0, "strongly"), (0.5, "somewhat"))
"""Bands of |log10 ratio|, after Jeffreys, Theory of Probability (from memory): 100, 10 and about 3 to one."""


@dataclass(frozen=True)
class Reason:
    """
    One reading as it bears on one suspect.

    Args:
        reading: Place in the evidence.
        weight: log10 of the likelihood ratio; positive speaks for the suspect.
        words: The same in words: 'speaks strongly for'.
        expected: What the suspect's likeliest hypothesis expected.
        healthy: What a healthy board reads.
    """

    reading: int
    weight: float
    words: str
    expected: str
    healthy: str


@dataclass(frozen=True)
class Unexplained:
    """
    A reading that the leading hypotheses cannot account for.

    Args:
        reading: Place in the evidence.
        gross: Probability that it is grossly wrong, if the fault is in the model.
        why: In words.
    """

    reading: int
    gross: float
    why: str


def explain(posterior: Posterior, predict: Predict, evidence: Sequence[Evidence], part: str) -> tuple[Reason, ...]:
    """
    Each reading's weight for or against one part, strongest first; equals in the order of the evidence.

    The fault sets that hold the part are compared with the same sets without it, so that a part gets no credit for
    what the others of its set explain.
    """
    return explain_all(posterior, predict, evidence, [part])[part]


def explain_all(
    posterior: Posterior, predict: Predict, evidence: Sequence[Evidence], parts: Sequence[str]
) -> dict[str, tuple[Reason, ...]]:
    """The reasons of several parts, as `explain` gives them; all sets without their part are weighed in one go."""
    held = {part: np.flatnonzero(posterior.with_part(part))[:MOST_SETS] for part in parts}
    spared = {
        part: [frozenset(fault for fault in posterior.hypotheses[row] if fault[0] != part) for row in rows]
        for part, rows in held.items()
    }
    asked = list(dict.fromkeys(one for sets in spared.values() for one in sets))
    if not asked or not len(evidence):
        return dict.fromkeys(parts, ())
    without = weigh(predict(asked), evidence).log_single
    at = {one: row for row, one in enumerate(asked)}
    leading = {part: posterior.hypotheses[rows[0]] for part, rows in held.items() if len(rows)}
    shown = predict([*leading.values(), frozenset()])
    last = len(leading)
    healthy = [_words_of(shown, one, last) for one in evidence]
    found: dict[str, tuple[Reason, ...]] = dict.fromkeys(parts, ())
    for place, part in enumerate(leading):
        rows = held[part]
        shares = np.log(np.maximum(posterior.weights[rows], 1e-300))
        alone = without[[at[one] for one in spared[part]]]
        weights = (_average(shares, posterior.log_single[rows]) - _average(shares, alone)) / np.log(10.0)
        reasons = [
            Reason(r, float(weights[r]), strength(float(weights[r])), _words_of(shown, one, place), healthy[r])
            for r, one in enumerate(evidence)
        ]
        found[part] = tuple(sorted(reasons, key=lambda reason: -abs(reason.weight)))
    return found


def strength(weight: float) -> str:
    """
    A weight in words.

    >>> strength(1.2), strength(-0.6), strength(0.1)
    ('speaks strongly for', 'speaks somewhat against', 'says little')
    """
    for least, words in STRENGTHS:
        if abs(weight) >= least:
            return f"speaks {words} {'for' if weight > 0 else 'against'}"
    return "says little"


def unexplained(posterior: Posterior, evidence: Sequence[Evidence]) -> tuple[Unexplained, ...]:
    """Readings that are probably grossly wrong, or that only 'not in the model' accounts for."""
    if not len(evidence):
        return ()
    inside = max(1.0 - posterior.not_in_model, 1e-300)
    gross = posterior.weights @ posterior.gross / inside
    best = posterior.log_single[:1].max(axis=0)
    found = []
    for r in range(len(evidence)):
        if gross[r] >= setting("unexplained"):
            found.append(Unexplained(r, float(gross[r]), "the leading explanations treat it as a gross error"))
        elif posterior.not_in_model > setting("unexplained") and posterior.log_outside[r] > best[r]:
            found.append(Unexplained(r, float(gross[r]), "only a fault outside the model accounts for it"))
    return tuple(found)


def _average(shares: Floats, log_single: Floats) -> Floats:
    """Log density of every reading, averaged over fault sets with these log shares, shape (R,)."""
    logs = shares[:, None] - np.logaddexp.reduce(shares) + log_single
    return np.asarray(np.logaddexp.reduce(logs, axis=0))


def _words_of(predictions: Sequence[Prediction], one: Evidence, row: int) -> str:
    group, t = place_of(one, columns(predictions))
    return _words(predictions[group], one, t, row)


def _words(prediction: Prediction, one: Evidence, t: int, row: int) -> str:
    if not prediction.unknown[row, t] <= 0.5:
        return "anything"
    if t in prediction.words:
        names, chances = prediction.words[t]
        return likely_words(names, chances[row])
    return band_words(one.test.quantity, float(prediction.mean[row, t]), float(prediction.spread[row, t]))
