"""The course of a visit: how each reading, as it came, moved the probabilities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kilter.diagnose.posterior import Posterior
from kilter.diagnose.weigh import weigh
from kilter.records.reading import Reading
from kilter.services.compare import predicted
from kilter.services.diagnose import Diagnoser, Diagnosis
from kilter.services.evidence_of import evidence_of
from kilter.simulate.prediction import Floats


@dataclass(frozen=True)
class Course:
    """
    Probabilities before the first reading and after each, over the fault sets that were visited in the end.

    Args:
        readings: In the order in which they came, length R.
        parts: Probability that each part is faulty at that moment: a renewed part drops. Shape (R + 1,) each.
        healthy: Probability that nothing is wrong at that moment, shape (R + 1,).
        outside: Probability of 'not in the model', shape (R + 1,).
        renewals: (readings taken before it, part) of each renewal.
    """

    readings: tuple[Reading, ...]
    parts: dict[str, Floats]
    healthy: Floats
    outside: Floats
    renewals: tuple[tuple[int, str], ...]


def course(weigher: Diagnoser, diagnosis: Diagnosis) -> Course:
    """The visit once more, reading by reading."""
    posterior, visit = diagnosis.posterior, diagnosis.visit
    evidence = [evidence_of(visit.board, one) for one in visit.readings]
    predictions = predicted(weigher, diagnosis, evidence, posterior.hypotheses)
    steps = []
    for count in range(len(evidence) + 1):
        weighed = weigh(predictions, evidence[:count]).log_likelihood if count else np.zeros(len(posterior.weights))
        steps.append(_shares(posterior, weighed, count))
    renewals = _renewals(diagnosis)
    renewed = [frozenset(part for before, part in renewals if before < count) for count in range(len(steps))]
    names = {part for one in posterior.hypotheses for part, _ in one}
    return Course(
        readings=visit.readings,
        parts={part: _of_part(posterior, steps, renewed, part) for part in sorted(names)},
        healthy=np.array([_nothing(posterior, step, gone) for step, gone in zip(steps, renewed, strict=True)]),
        outside=np.array([step[-1] for step in steps]),
        renewals=renewals,
    )


def _shares(posterior: Posterior, log_likelihood: Floats, count: int) -> Floats:
    """Probability of every hypothesis after so many readings, with 'not in the model' last, shape (H + 1,)."""
    logs = np.append(posterior.log_prior + log_likelihood, _log_prior_outside(posterior))
    logs[-1] += posterior.log_outside[:count].sum()
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def _log_prior_outside(posterior: Posterior) -> float:
    """Log prior of 'not in the model', from its weight in the end. It takes the leading hypothesis as a yardstick."""
    with np.errstate(divide="ignore"):
        ratio = np.log(posterior.not_in_model) - np.log(posterior.weights[0])
    return float(ratio + posterior.log_prior[0] + posterior.log_likelihood[0] - posterior.log_outside.sum())


def _renewals(diagnosis: Diagnosis) -> tuple[tuple[int, str], ...]:
    """Where among the readings each renewal falls: before the first reading in a state that has it behind it."""
    states, readings = diagnosis.visit.board.states, diagnosis.visit.readings
    found: dict[str, int] = {}
    for count, reading in enumerate(readings):
        for part in sorted(states[reading.state].renewed):
            found.setdefault(part, count)
    for part in sorted(diagnosis.visit.deeds.renewed):
        found.setdefault(part, len(readings))
    return tuple((count, part) for part, count in found.items())


def _of_part(posterior: Posterior, steps: Sequence[Floats], renewed: Sequence[frozenset[str]], part: str) -> Floats:
    holds = np.append(posterior.with_part(part), False)
    return np.array(
        [0.0 if part in gone else float(step[holds].sum()) for step, gone in zip(steps, renewed, strict=True)]
    )


def _nothing(posterior: Posterior, step: Floats, renewed: frozenset[str]) -> float:
    none = [all(part in renewed for part, _ in one) for one in posterior.hypotheses]
    return float(step[:-1][np.array(none)].sum())
