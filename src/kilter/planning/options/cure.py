"""A cure: one way to treat one part, or several together, with its chances and what it takes from the object."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kilter.diagnose.cost import grade_cost
from kilter.planning.numbers import number
from kilter.simulate.prediction import Fault


@dataclass(frozen=True)
class Cure:
    """
    One way to treat parts.

    Args:
        key: Such as 'replace original'; the same for all parts.
        parts: That it treats.
        words: What is done.
        removes: Chance that it removes each fault; absent faults stay.
        minutes: Time, without the recheck that follows. [min]
        grade: Intervention grade, 0 to 6.
        undo: How far it can be undone: 'fully', 'partly' or 'not'.
        pad: Chance that a pad or a trace comes off.
        keeps: Worth of what it takes from the object as it was made. [min]
        piece: What is put in: '' nothing, 'original', 'substitute' or 'donor'.
        origin: Where the piece comes from; '' where none is needed or none is known.
        source: Of the numbers.
    """

    key: str
    parts: tuple[str, ...]
    words: str
    removes: Mapping[Fault, float]
    minutes: float
    grade: int
    undo: str
    pad: float
    keeps: float
    piece: str = ""
    origin: str = ""
    source: str = ""

    @property
    def name(self) -> str:
        """What tells it from every other cure of the object."""
        return f"{' and '.join(self.parts)}: {self.key}" + (f" ({self.origin})" if self.origin else "")

    @property
    def cost(self) -> float:
        """Time, the worth of the intervention, of a pad that may come off and of what is no longer as made. [min]"""
        return self.minutes + grade_cost(self.grade) + self.pad * number("repair_options", "pad_loss") + self.keeps
