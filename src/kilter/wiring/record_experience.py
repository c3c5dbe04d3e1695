"""The record's experience: kept like an experience file, but in its tables; and what of it counts for one visit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from kilter.circuit.board import Board
from kilter.diagnose.cost import Effort
from kilter.diagnose.learned_odds import learned_odds
from kilter.measure.errors import BadInput
from kilter.services.experience import ACCEPTED, VISIT, Entry, Experience
from kilter.services.experience_chain import refuse_twice
from kilter.services.learn_record import basis_of, without, years_at
from kilter.services.learn_times import effort_of
from kilter.simulate.prediction import Fault
from kilter.store.models import Person, Visit
from kilter.store.verbs.learned import add_learned, learned_mark, read_learned


class RecordExperience:
    """
    A collection's experience in its record; used like `kilter.wiring.experience_file.ExperienceFile`.

    Args:
        actor: Who adds entries; None where it is only read.
    """

    def __init__(self, actor: Person | None = None) -> None:
        self.actor = actor

    def read(self) -> Experience:
        """
        All entries; none where nothing was learned yet.

        Raises:
            BadInput: Something of it was altered.
        """
        return read_learned()

    def add(self, experience: Experience, kind: str, body: Mapping[str, Any], *, who: str = "") -> Entry:  # noqa: ARG002
        """
        Adds one entry, for the actor.

        Args:
            experience: As it was read.
            kind: One of the kinds of entries.
            body: Plain data.
            who: Not used; the record knows who acts.

        Raises:
            BadInput: It is there already, or somebody else has added one meanwhile.
            NotAllowed: The person's role does not allow it.
        """
        refuse_twice(experience, kind, body)
        assert self.actor is not None
        row = add_learned(self.actor, kind, body, after=len(experience.entries))
        return Entry(row.number, row.at.isoformat(), self.actor.key, kind, body)


@dataclass(frozen=True)
class AtBench:
    """
    What of the experience counts for one visit.

    Args:
        odds: Chance of faults where counts moved it; none where nothing was counted.
        effort: What work takes here.
        visits: How many visits of the own collection stand behind it.
        others: How many other collections.
        damaged: Why none of it is used, in words; '' where it is whole.
    """

    odds: Mapping[Fault, float] = field(default_factory=dict)
    effort: Effort = field(default_factory=Effort)
    visits: int = 0
    others: int = 0
    damaged: str = ""

    @property
    def used(self) -> bool:
        """Whether anything but the handbook counts."""
        return bool(self.odds) or self.effort != Effort()


def at_bench(board: Board, visit: Visit) -> AtBench:
    """
    What was learned, for the diagnosis of a visit; nothing of it while any of it is damaged.

    Args:
        board: Of the visit.
        visit: What it taught itself is left out.
    """
    try:
        whole = read_learned()
    except BadInput as error:
        return AtBench(damaged=str(error))
    experience = without(whole, identity_of(visit))
    counts = experience.weighted()
    standing = experience.standing()
    return AtBench(
        learned_odds(board, counts, age_of(visit)) if counts else {},
        effort_of(experience.times()),
        sum(one.kind == VISIT and bool(one.counts) for one in standing),
        sum(one.kind == ACCEPTED for one in standing),
    )


def experience_mark() -> tuple[int, str]:
    """Changes whenever something is added to the experience."""
    return learned_mark()


def identity_of(visit: Visit) -> str:
    """SHA-256 that tells a visit of the record from others."""
    return basis_of("visit of the record", visit.pk, visit.at.isoformat())


def age_of(visit: Visit) -> float | None:
    """Age of the visit's object at the time. [a]"""
    return years_at(visit.object.made, visit.at.year)
