"""
Prior odds of hypotheses: how likely a fault set is before any reading, given what came with the object.

A part is healthy or in exactly one of its modes; parts fail independently. So a hypothesis h has the prior
    P(h) = product over its faults of p_mode / (1 - p_part)  x  product over all parts of (1 - p_part).
Signs seen, old labels and assurances multiply the odds of single faults, each by a likelihood ratio against 'healthy',
so they are evidence like any reading and are normalised with the readings.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, inf, log, log1p
from typing import TYPE_CHECKING

import numpy as np

from kilter.circuit.board import Board
from kilter.diagnose.settings import setting
from kilter.measure.errors import BadInput
from kilter.parts.kinds import Mode, modes_of
from kilter.simulate.prediction import Fault, Floats, Hypothesis

if TYPE_CHECKING:
    from kilter.records.history import Label, Seen


@dataclass(frozen=True)
class Priors:
    """
    Log odds of every fault.

    Args:
        log_odds: Log of p_mode / (1 - p_part), with what was seen and said already multiplied in.
        log_healthy: Log prior that no part is faulty, before it is counted in that the object does not work.
        log_outside: Log prior of 'not in the model'; the other priors leave room for it.
        log_nothing: Log factor on 'nothing wrong' alone, from a symptom that speaks against it.
    """

    log_odds: Mapping[Fault, float]
    log_healthy: float
    log_outside: float
    log_nothing: float = 0.0

    def of(self, hypotheses: Sequence[Hypothesis]) -> Floats:
        """Log priors; minus infinity where one part is given two modes at once."""
        return np.array([self._one(one) for one in hypotheses], dtype=float)

    def _one(self, hypothesis: Hypothesis) -> float:
        if len({part for part, _ in hypothesis}) < len(hypothesis):
            return -inf
        factor = 0.0 if hypothesis else self.log_nothing
        return self.log_healthy + factor + sum(sorted(self.log_odds[fault] for fault in hypothesis))

    def faults(self) -> tuple[Fault, ...]:
        """All faults, likeliest first; equals by name."""
        return tuple(sorted(self.log_odds, key=lambda fault: (-self.log_odds[fault], fault)))

    def modes(self) -> dict[str, tuple[Fault, ...]]:
        """Part to its faults."""
        found: dict[str, tuple[Fault, ...]] = {}
        for fault in self.faults():
            found[fault[0]] = (*found.get(fault[0], ()), fault)
        return found

    def log_mass(self, most: int) -> Floats:
        """
        Log prior mass of all fault sets of size 0, 1, ... most, and in the last place of all larger ones.

        The sums are elementary symmetric polynomials of the parts' odds, so no set is listed.
        """
        sizes = np.ones(1)
        for group in self.modes().values():
            sizes = np.convolve(sizes, [1.0, sum(exp(self.log_odds[fault]) for fault in group)])
        sizes[0] *= exp(self.log_nothing)
        mass = np.zeros(most + 2)
        mass[: min(most + 1, len(sizes))] = sizes[: most + 1]
        mass[-1] = sizes[most + 1 :].sum()
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(mass) + self.log_healthy)

    def count(self, most: int) -> int:
        """Number of fault sets of at most that size."""
        sizes = [1] + [0] * most
        for group in self.modes().values():
            for size in range(most, 0, -1):
                sizes[size] += len(group) * sizes[size - 1]
        return sum(sizes)


def priors_of(
    board: Board,
    *,
    seen: Iterable[Seen] = (),
    labels: Iterable[Label] = (),
    known_good: Iterable[str] = (),
    log_factors: Mapping[Fault, float] | None = None,
    outside: float | None = None,
    not_working: bool = False,
    odds: Mapping[Fault, float] | None = None,
) -> Priors:
    """
    Priors of every fault of every part of the board.

    Args:
        board: Its parts and their kinds give the modes and their odds.
        seen: Signs that an eye saw; 'clean' means that none of the mode's signs was there.
        labels: What an old label or an earlier repairer said, with a reliability from 0 (no effect) to 1.
        known_good: Parts that somebody vouches for.
        log_factors: Log likelihood ratio, against healthy, of what else is known about a fault: a memory's dump.
        outside: Prior of 'not in the model'; None takes the setting.
        not_working: Somebody saw that the object does not do its work.
        odds: Chance of each fault where failure counts moved it; the others keep that of their kind.
    """
    modes = {(ref, mode.key): mode for ref, part in board.parts.items() for mode in modes_of(part)}
    shares = {fault: (odds or {}).get(fault, mode.odds) for fault, mode in modes.items()}
    factors = dict.fromkeys(modes, 0.0)
    for sign in seen:
        for fault in _faults(modes, sign.part):
            factors[fault] += _sign_ratio(modes[fault], sign.sign)
    for label in labels:
        for fault in _faults(modes, label.part, label.mode):
            factors[fault] += label_ratio(label.reliability, len(board.parts))
    for part in known_good:
        for fault in _faults(modes, part):
            factors[fault] += log(setting("known_good"))
    for (part, key), ratio in (log_factors or {}).items():
        for fault in _faults(modes, part, key):
            factors[fault] += ratio
    found = priors(shares, log_factors=factors, outside=outside)
    return with_symptom(found, setting("fails_when_healthy")) if not_working else found


def with_symptom(before: Priors, chance: float) -> Priors:
    """
    The priors once the object was seen not to work; 'not in the model' keeps its share.

    Args:
        before: Without that knowledge.
        chance: That it fails although none of the parts is faulty.

    >>> one = with_symptom(priors({("R1", "open"): 0.1}, outside=0.0), 0.0)
    >>> [round(float(np.exp(p)), 3) for p in one.of([frozenset(), frozenset({("R1", "open")})])]
    [0.0, 1.0]
    """
    factor = max(chance, np.finfo(float).tiny)
    log_inside = float(np.logaddexp.reduce(before.log_mass(0)))
    nothing = exp(before.log_healthy - log_inside)
    return replace(
        before,
        log_healthy=before.log_healthy - log1p(-nothing * (1.0 - factor)),
        log_nothing=before.log_nothing + log(factor),
    )


def priors(
    shares: Mapping[Fault, float], *, log_factors: Mapping[Fault, float] | None = None, outside: float | None = None
) -> Priors:
    """
    Priors from the chance of every fault.

    Args:
        shares: Chance of each fault before anything was seen or said.
        log_factors: Log likelihood ratio, against healthy, of what was seen and said about each fault.
        outside: Prior of 'not in the model'; None takes the setting.

    Raises:
        BadInput: The chances of one part's modes add up to one or more.

    >>> one = priors({("R1", "open"): 0.1, ("R1", "short"): 0.1}, outside=0.0)
    >>> [round(float(np.exp(p)), 3) for p in one.of([frozenset(), frozenset({("R1", "open")})])]
    [0.8, 0.1]
    """
    healthy: dict[str, float] = {}
    for (part, _), share in shares.items():
        healthy[part] = healthy.get(part, 1.0) - share
    for part, left in healthy.items():
        if left <= 0:
            raise BadInput(
                f"Cannot set the prior of {part}", f"fault chances that add up to {1 - left:.3g}", "a sum below 1",
                "Lower the odds of its kind in the part kinds data.",
            )  # fmt: skip
    out = setting("not_in_model") if outside is None else outside
    factors = log_factors or {}
    return Priors(
        {fault: log(p / healthy[fault[0]]) + factors.get(fault, 0.0) for fault, p in shares.items() if p > 0},
        sum(sorted(log(left) for left in healthy.values())) + log1p(-out),
        log(out) if out > 0 else -inf,
    )


def label_ratio(reliability: float, parts: int) -> float:
    """
    Log likelihood ratio of a label that names one part of many.

    With chance r its writer knew and named a faulty part; otherwise the name is one of all parts by chance. So a part
    named with reliability r ends near probability r when nothing else is known, and r = 0 changes nothing.

    >>> label_ratio(0.0, 100)
    0.0
    """
    r = min(max(reliability, 0.0), setting("label_ceiling"))
    return log1p(r / (1.0 - r) * max(parts, 1))


def _sign_ratio(mode: Mode, sign: str) -> float:
    background = setting("sign_when_healthy")
    if sign != "clean":
        return log(max(mode.signs.get(sign, 0.0), background) / background)
    nothing = np.prod([1.0 - chance for chance in mode.signs.values()])
    return log(max(float(nothing), background))


def _faults(modes: Mapping[Fault, Mode], part: str, mode: str = "") -> list[Fault]:
    found = [fault for fault in modes if fault[0] == part and mode in ("", fault[1])]
    if found:
        return found
    parts = sorted({ref for ref, _ in modes})
    raise BadInput(
        "Cannot use what is known about the object",
        f"the part '{part}'" + (f" with the mode '{mode}'" if mode else ""),
        ", ".join(key for ref, key in modes if ref == part) or ", ".join(parts[:40]),
        "Use a part and a mode of this board.",
    )
