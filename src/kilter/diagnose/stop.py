"""
When to stop asking: compare acting now, one more test, and leaving the object as it is.

Everything is an expected loss in minutes (data/costs.toml).

- Leaving it costs the loss of an object that stays silent, unless nothing is wrong.
- Acting on a set of parts costs their repairs, with the worth of the intervention. If a fault is left after that,
  going on costs a recheck, the tests that it would take to remove the doubt, and the repair of what is left, but
  never more than leaving it.
- Asking costs the best test, then the best of acting or leaving after each of its outcomes. Because one test seldom
  settles the matter, asking is also judged by the tests that would remove all doubt, followed by the right repair;
  the smaller loss counts.

Tests that would remove a doubt are counted at the rate of the best one: bits of doubt over its bits, times its cost.
That is an estimate, and it leans towards asking, since later tests tend to bring less.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.circuit.board import Board
from kilter.diagnose.ask import Advice
from kilter.diagnose.cost import grade_cost
from kilter.diagnose.evidence import key_of
from kilter.diagnose.expect import Expected
from kilter.diagnose.outcomes import outcome_shares
from kilter.diagnose.posterior import Posterior
from kilter.diagnose.settings import setting, settings
from kilter.records.part import Part
from kilter.simulate.prediction import Floats

MOST_SETS = 40
OUTCOMES = 12
LEAST_BITS = 1e-9


@dataclass(frozen=True)
class Repair:
    """What it takes to replace one part. [min], grade 0 to 6"""

    minutes: float
    grade: int

    @property
    def cost(self) -> float:
        """Time and the worth of the intervention. [min]"""
        return self.minutes + grade_cost(self.grade)


@dataclass(frozen=True)
class Decision:
    """
    What to do now, with the numbers behind it.

    Args:
        action: 'test', 'act' or 'leave'.
        parts: The parts to act on, for 'act'.
        advice: The test to do, for 'test'.
        losses: Expected loss of the best choice of each kind; a kind that is not open is absent. An act that would not
            earn its own cost, or comes too early, may be named here but is not the action. [min]
        fixed: Probability that acting on `best_parts` removes every fault.
        best_parts: The parts that acting now would replace, whatever was decided.
        words: The decision in one sentence.
    """

    action: str
    parts: tuple[str, ...]
    advice: Advice | None
    losses: Mapping[str, float]
    fixed: float
    best_parts: tuple[str, ...]
    words: str


def repair_case(part: Part) -> str:
    """How a part is replaced: pulled from its socket, or soldered as a later part or an original one."""
    return "socketed" if part.socketed else "original" if part.original else "later"


def repairs_of(board: Board, pace: Mapping[str, float] | None = None) -> dict[str, Repair]:
    """
    Effort to replace each part.

    Args:
        board: Whose parts.
        pace: Factor on the usual minutes of each case, where this bench's are known.
    """
    cases = {ref: repair_case(part) for ref, part in board.parts.items()}
    usual, grades, factors = settings("repair_minutes"), settings("repair_grade"), pace or {}
    return {
        ref: Repair(float(usual[case]) * factors.get(case, 1.0), int(grades[case])) for ref, case in cases.items()
    }


def decide(
    posterior: Posterior,
    expected: Expected,
    advice: Sequence[Advice],
    repairs: Mapping[str, Repair],
    ties: Sequence[tuple[str, ...]] = (),
    *,
    static_loss: float | None = None,
) -> Decision:
    """
    Weighs testing, acting and leaving.

    Args:
        posterior: What is believed now.
        expected: The mixture over the open tests.
        advice: What the asker makes of the same open tests, best first.
        repairs: What replacing each part takes; parts without an entry cannot be acted on.
        ties: Groups that no test can part; acting on a whole group is one of the choices.
        static_loss: Loss when the object stays silent; None takes the setting. [min]
    """
    lost = setting("static_loss") if static_loss is None else static_loss
    acts = _Acts(posterior, expected, repairs, ties, lost, advice[0] if advice else None)
    now, worth = acts.losses(expected.weights), acts.worthwhile(expected.weights)
    earns = bool(np.isfinite(worth[1:]).any())
    best = int(np.argmin(worth[1:] if earns else now[1:])) + 1 if len(now) > 1 else 0
    fixed = float(acts.fixes[best] @ expected.weights) if best else 0.0
    may_act = earns and (fixed >= setting("sure_enough") or not _tells_more(advice))
    losses = {"leave": float(now[0])} | ({"act": float(now[best])} if best else {})
    if advice:
        losses["test"] = _asking(acts, expected, advice[0])
    choices = [kind for kind in ("leave", "test", "act") if kind in losses and (kind != "act" or may_act)]
    action = min(choices, key=losses.__getitem__)
    parts = acts.sets[best]
    return Decision(
        action=action,
        parts=parts if action == "act" else (),
        advice=advice[0] if action == "test" else None,
        losses=losses,
        fixed=fixed,
        best_parts=parts,
        words=_words(action, parts, advice, losses, posterior),
    )


class _Acts:
    """The choices that end the asking: leave it (the first), or replace a set of parts."""

    def __init__(
        self,
        posterior: Posterior,
        expected: Expected,
        repairs: Mapping[str, Repair],
        ties: Sequence[tuple[str, ...]],
        lost: float,
        advice: Advice | None,
    ) -> None:
        self.lost = lost
        self.minutes_per_bit = advice.cost / max(advice.bits, LEAST_BITS) if advice else np.inf
        faulty = [frozenset(part for part, _ in posterior.faults_now(one)) for one in expected.hypotheses]
        self.sets = _sets(posterior, faulty, repairs, ties)
        self.costs = np.array([sum(repairs[part].cost for part in one) for one in self.sets])
        dear = {part: repairs[part].cost if part in repairs else lost for part in frozenset().union(*faulty)}
        place = {part: column for column, part in enumerate(dear)}
        held = np.zeros((len(dear), len(faulty)))
        for column, now in enumerate(faulty):
            held[[place[part] for part in now], column] = 1.0
        kept = np.array([[part not in one for part in dear] for one in map(frozenset, self.sets)], dtype=float)
        remain = kept.reshape(len(self.sets), len(dear)) * list(dear.values()) @ held
        unmended = kept.reshape(len(self.sets), len(dear)) @ held
        last = np.ones((len(self.sets), 1))
        self.fixes = np.hstack([unmended == 0.0, 0.0 * last])
        self.left = np.hstack([remain, lost * last])
        self.own = np.minimum(self.left[0], lost)

    def losses(self, weights: Floats) -> Floats:
        """Expected loss of each choice, whether it is worth making or not. [min]"""
        losses = self.costs + self._going_on(weights)
        losses[0] = self.lost * (1.0 - self.fixes[0] @ weights)
        return np.asarray(losses)

    def worthwhile(self, weights: Floats) -> Floats:
        """
        The same, infinite for a repair that does not earn its own cost. [min]

        What follows a repair that did not help is the same going on that follows no repair at all; without that
        comparison, replacing some cheap innocent part would look like a cheap way to go on.
        """
        going_on = self._going_on(weights)
        earned = self.costs + going_on < going_on[0]
        earned[0] = True
        return np.where(earned, self.losses(weights), np.inf)

    def _going_on(self, weights: Floats) -> Floats:
        """Expected loss after each choice, where it did not remove every fault. [min]"""
        again = setting("recheck") + self.to_remove(doubt(weights))
        return np.asarray((np.minimum(self.left + again, self.lost) * (1.0 - self.fixes)) @ weights)

    def to_remove(self, bits: float) -> float:
        """Cost of the tests that would remove this much doubt. [min]"""
        return bits * self.minutes_per_bit if bits > 0 else 0.0


def _tells_more(advice: Sequence[Advice]) -> bool:
    """Whether a test is open that tells enough to wait for before a part is taken out on a likelihood."""
    return any(one.bits >= setting("worth_waiting") for one in advice)


def doubt(weights: Floats) -> float:
    """Entropy of the mixture. [bit]"""
    positive = weights[weights > 0]
    return float(-(positive * np.log2(positive)).sum())


def _sets(
    posterior: Posterior,
    faulty: Sequence[frozenset[str]],
    repairs: Mapping[str, Repair],
    ties: Sequence[tuple[str, ...]],
) -> list[tuple[str, ...]]:
    """Nothing first; then single suspects, ties, the leading fault sets, and suspects taken together in order."""
    suspects = [part for part in posterior.parts() if part in repairs][:MOST_SETS]
    together: Iterable[tuple[str, ...]] = (tuple(suspects[: k + 1]) for k in range(min(len(suspects), 6)))
    wanted = [(), *((part,) for part in suspects), *ties, *(tuple(now) for now in faulty[:MOST_SETS]), *together]
    kept = (tuple(sorted(one)) for one in wanted if all(part in repairs for part in one))
    return list(dict.fromkeys(kept))


def _asking(acts: _Acts, expected: Expected, advice: Advice) -> float:
    """Loss of asking: one test and then the best choice, or all doubt removed and then the right repair. [min]"""
    test = [key_of(one.test) for one in expected.candidates].index(key_of(advice.test))
    after = 0.0
    for share in outcome_shares(expected, test, OUTCOMES).T:
        chance = float(expected.weights @ share)
        if chance > 0:
            after += chance * float(acts.worthwhile(expected.weights * share / chance).min())
    to_the_end = max(advice.cost, acts.to_remove(doubt(expected.weights))) + float(expected.weights @ acts.own)
    return min(advice.cost + after, to_the_end)


def _words(
    action: str, parts: tuple[str, ...], advice: Sequence[Advice], losses: Mapping[str, float], posterior: Posterior
) -> str:
    numbers = ", ".join(f"{kind} {loss:.0f}" for kind, loss in losses.items())
    if action == "test":
        test = advice[0].test
        verb = "Look at" if test.quantity == "look" else f"Read {test.quantity} at"
        what = f"{verb} {test.point} in state '{test.state}'"
    elif action == "act":
        what = f"Replace {' and '.join(parts)}"
    elif posterior.healthy > 0.5:
        what = "Leave it: no fault that the model knows explains the readings better than none"
    else:
        what = "Leave it as it is, for static display"
    return f"{what} (expected loss in minutes: {numbers})."
