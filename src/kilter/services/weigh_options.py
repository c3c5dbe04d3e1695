"""Weigh what can be done about the suspects: cures with the pieces that there are, one more test, or leaving it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from kilter.circuit.board import Board
from kilter.planning.allocation.problem import Lot, StandIn
from kilter.planning.numbers import number, numbers
from kilter.planning.options.catalogue import assumed_spares, cures_of, together
from kilter.planning.options.cure import Cure
from kilter.planning.options.piece import Spare
from kilter.planning.options.rank import Choice, Ranking, TestFirst, rank
from kilter.planning.part_types import part_type
from kilter.services.diagnose import Diagnosis

CAUTION = (
    "Times, chances and worth behind this are judgement (data/planning/repair_options.toml); it ranks what to try and "
    "does not say that an object may be opened, powered or worked on. That is for the rules of your house."
)
LARGEST_TIE = 3


@dataclass(frozen=True)
class Options:
    """
    The ranking, with what it rests on.

    Args:
        ranking: Cures, tests and leaving.
        suspects: For which cures were weighed, with their probabilities.
        assumed: Parts whose pieces are assumed to be had, as no stock was given.
        missing: Parts for which the stock has no piece, with the name of the piece.
        words: What to do, in one or two sentences.
    """

    ranking: Ranking
    suspects: tuple[tuple[str, float], ...]
    assumed: tuple[str, ...]
    missing: tuple[str, ...]
    words: str

    def plain(self) -> dict[str, Any]:
        """As plain data; the machine interface (docs/machine-interface.md)."""
        return {
            "action": self.ranking.action,
            "words": self.words,
            "options": [_choice(one) for one in self.ranking.choices],
            "leave": self.ranking.leave,
            "tests": [_test(one) for one in self.ranking.tests],
            "something_else": self.ranking.something_else,
            "healthy": self.ranking.healthy,
            "whole_tree": self.ranking.whole,
            "assumed_to_be_had": list(self.assumed),
            "not_in_stock": list(self.missing),
            "cautions": [CAUTION],
        }


def weigh_options(
    diagnosis: Diagnosis,
    *,
    lots: Sequence[Lot] | None = None,
    stand_ins: Sequence[StandIn] = (),
    static_loss: float | None = None,
) -> Options:
    """
    Ranks what can be done.

    Args:
        diagnosis: With its suspects, ties and open tests.
        lots: Pieces on the shelf; None where nobody said, and pieces are then assumed to be had.
        stand_ins: Substitutes with their verdicts; only 'fit' and 'conditions' are used.
        static_loss: Loss when the object stays silent; None takes the setting. [min]
    """
    board, posterior = diagnosis.visit.board, diagnosis.posterior
    least = number("repair_options", "least_suspect")
    suspects = [one for one in posterior.parts().items() if one[0] in board.parts and one[1] >= least]
    suspects = suspects[: int(number("repair_options", "most_suspects"))]
    cures: list[Cure] = []
    assumed, missing = [], []
    for ref, _ in suspects:
        spares = _spares(board, ref, lots, stand_ins)
        if lots is None:
            assumed.append(ref)
        elif not spares:
            missing.append(f"{ref} ({part_type(board.parts[ref])})")
        modes = [mode for part, mode in posterior.modes() if part == ref]
        cures += cures_of(board.parts[ref], modes, spares)
    cures += _of_ties(diagnosis, cures)
    ranking = rank(posterior, diagnosis.expected, diagnosis.advice, cures, static_loss=static_loss)
    return Options(ranking, tuple(suspects), tuple(assumed), tuple(missing), _words(ranking))


def _spares(board: Board, ref: str, lots: Sequence[Lot] | None, stand_ins: Sequence[StandIn]) -> tuple[Spare, ...]:
    """The best piece of each kind that there is."""
    if lots is None:
        return assumed_spares()
    wanted, factors = part_type(board.parts[ref]), numbers("allocation", "substitute_factor")
    verdicts = {one.part: one.verdict for one in stand_ins if one.wanted == wanted and one.verdict in factors}
    own = [Spare("original", lot.good, lot.key) for lot in lots if lot.part == wanted and lot.count > 0]
    other = [
        Spare("substitute", lot.good * factors[verdicts[lot.part]], f"{lot.part}, {lot.key}",
              "with conditions" if verdicts[lot.part] == "conditions" else "")
        for lot in lots if lot.part in verdicts and lot.count > 0
    ]  # fmt: skip
    best = [max(some, key=lambda one: (one.good, one.origin)) for some in (own, other) if some]
    return tuple(one for one in best if one.good > 0)


def _of_ties(diagnosis: Diagnosis, cures: Sequence[Cure]) -> list[Cure]:
    """For each small tie the cures that can be done to all its parts in one go."""
    found: list[Cure] = []
    for group in diagnosis.ties:
        if not 1 < len(group) <= LARGEST_TIE:
            continue
        by_key = {(cure.parts[0], cure.key): cure for cure in cures}
        keys = dict.fromkeys(cure.key for cure in cures if cure.parts[0] == group[0])
        able = [key for key in keys if all((part, key) in by_key for part in group)]
        found += [together([by_key[part, key] for part in group]) for key in able]
    return found


def _words(ranking: Ranking) -> str:
    losses = [f"leave {ranking.leave:.0f}"]
    if ranking.tests:
        losses.append(f"test {ranking.tests[0].loss:.0f}")
    if ranking.choices:
        losses.append(f"cure {ranking.choices[0].loss:.0f}")
    if ranking.action == "test":
        test = ranking.tests[0].advice.test
        what = (f"First look at {test.point} in state '{test.state}'" if test.quantity == "look" else
                f"First read {test.quantity} at {test.point} in state '{test.state}'")  # fmt: skip
    elif ranking.action == "cure":
        cure = ranking.choices[0].cure
        what = f"{' and '.join(cure.parts)}: {cure.words}"
    else:
        what = "Leave it as it is, for static display"
    return f"{what} (expected loss in minutes: {', '.join(losses)})."


def _choice(one: Choice) -> dict[str, Any]:
    cure = one.cure
    return {
        "parts": list(cure.parts), "option": cure.key, "words": cure.words, "loss": one.loss, "fixed": one.fixed,
        "helps": one.helps,
        "minutes": cure.minutes, "grade": cure.grade, "undo": cure.undo, "pad_risk": cure.pad,
        "authenticity_loss": cure.keeps, "cost": cure.cost, "piece": cure.piece, "origin": cure.origin,
        "source": cure.source,
    }  # fmt: skip


def _test(one: TestFirst) -> dict[str, Any]:
    test = one.advice.test
    return {"point": test.point, "quantity": test.quantity, "state": test.state, "loss": one.loss, "saves": one.saves,
            "cost": one.advice.cost}  # fmt: skip
