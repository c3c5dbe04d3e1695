"""The log of one visit: entries that are only ever added, and what of them still stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from kilter.records.reading import Reading

READ, CHECKED, WAIVED, SKIPPED, UNDONE = "reading", "power checks", "power checks waived", "skipped", "undone"
KINDS = (READ, CHECKED, WAIVED, SKIPPED, UNDONE)

NO_WORDS: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class Entry:
    """
    One thing that happened.

    Args:
        number: From 1, in order.
        time: ISO 8601, UTC.
        who: Who did it; '' where nobody said.
        kind: One of KINDS.
        words: As they were typed, by column of a readings file; for 'undone' the number under 'entry'.
        reading: What the words mean, for a reading or a deed.
    """

    number: int
    time: str
    who: str
    kind: str
    words: Mapping[str, str] = field(default_factory=lambda: NO_WORDS)
    reading: Reading | None = None

    @property
    def deed(self) -> bool:
        """Whether it changed the object."""
        return self.reading is not None and self.reading.quantity == "done"


@dataclass(frozen=True)
class VisitLog:
    """
    Entries in order.

    >>> log = VisitLog((Entry(1, "", "", CHECKED), Entry(2, "", "", UNDONE, {"entry": "1"})))
    >>> log.power_checks, len(log.entries), len(log.standing())
    (False, 2, 0)
    """

    entries: tuple[Entry, ...] = ()

    def with_one(self, entry: Entry) -> VisitLog:
        """The log with one more entry."""
        return VisitLog((*self.entries, entry))

    def standing(self) -> tuple[Entry, ...]:
        """Entries that were not undone, without the undoing itself."""
        undone = {one.words["entry"] for one in self.entries if one.kind == UNDONE}
        return tuple(one for one in self.entries if one.kind != UNDONE and str(one.number) not in undone)

    def last(self) -> Entry | None:
        """What an undo would take back."""
        standing = self.standing()
        return standing[-1] if standing else None

    def readings(self) -> tuple[Reading, ...]:
        """Readings and deeds that stand."""
        return tuple(one.reading for one in self.standing() if one.reading is not None)

    def skipped(self) -> frozenset[tuple[str, str, str]]:
        """Point, quantity and state of the tests that cannot be done, or are not wanted."""
        rows = (one.words for one in self.standing() if one.kind == SKIPPED)
        return frozenset((row["point"], row["quantity"], row["state"]) for row in rows)

    @property
    def power_checks(self) -> bool:
        """Whether the checks before switching on were passed, or waived, since anything was last done to the object."""
        return self.gate is not None

    @property
    def gate(self) -> Entry | None:
        """The entry that allows power now: checks passed, or waived with a reason; anything done closes it again."""
        for one in reversed(self.standing()):
            if one.kind in (CHECKED, WAIVED):
                return one
            if one.deed:
                return None
        return None
