"""
Experience: what finished visits, typed counts and other collections taught, as entries that are only ever added.

Withdrawing is an entry too: it names the one that no longer counts, and can itself be withdrawn. What another
collection sends is always all it knows, so its newest entry takes the place of its older ones.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from kilter.diagnose.learned_odds import Weighted
from kilter.diagnose.learned_odds_counts import Count, checked
from kilter.measure.errors import BadInput
from kilter.services.learn_times import Times, together
from kilter.services.report_calibration import Told

VISIT, COUNTS, ACCEPTED, WITHDRAWN, EXPORTED = "visit", "counts", "accepted", "withdrawn", "exported"
KINDS = (VISIT, COUNTS, ACCEPTED, WITHDRAWN, EXPORTED)


@dataclass(frozen=True)
class Entry:
    """
    One thing learned, or no longer believed.

    Args:
        number: From 1, in order.
        time: ISO 8601, UTC.
        who: Who added it; never leaves the collection.
        kind: One of KINDS.
        body: Plain data.
    """

    number: int
    time: str
    who: str
    kind: str
    body: Mapping[str, Any]

    @cached_property
    def counts(self) -> tuple[Count, ...]:
        """The counts in it; looked through once, however often they are asked for."""
        return tuple(counts_of(self.body))


@dataclass(frozen=True)
class Experience:
    """All entries, in order."""

    entries: tuple[Entry, ...] = ()

    def standing(self) -> tuple[Entry, ...]:
        """Entries that count: not withdrawn, and of each other collection the newest."""
        gone: set[int] = set()
        for one in reversed(self.entries):
            if one.kind == WITHDRAWN and one.number not in gone:
                gone.add(int(one.body["entry"]))
        newest = {one.body["key"]: one.number for one in self.entries if one.kind == ACCEPTED}
        return tuple(
            one
            for one in self.entries
            if one.number not in gone and (one.kind != ACCEPTED or newest[one.body["key"]] == one.number)
        )

    def accepted(self, key: str = "") -> tuple[Entry, ...]:
        """Everything that was ever accepted, from one key or from all, withdrawn or not."""
        return tuple(one for one in self.entries if one.kind == ACCEPTED and key in ("", one.body["key"]))

    def own(self) -> Iterator[Count]:
        """What this collection counted itself."""
        for one in self.standing():
            if one.kind in (VISIT, COUNTS):
                yield from one.counts

    def weighted(self) -> tuple[Weighted, ...]:
        """All counts that stand, with the weight and the name of whoever counted; '' for the own collection."""
        found = [Weighted(count) for count in self.own()]
        for one in self.standing():
            if one.kind == ACCEPTED:
                weight, name = float(one.body["trust"]), str(one.body["name"])
                found += [Weighted(count, weight, name) for count in one.counts]
        return tuple(found)

    def calls(self) -> list[list[Told]]:
        """What each own visit had said about each part at its end, and what was so."""
        return [
            [Told(float(p), bool(so)) for p, so in one.body.get("calls", ())]
            for one in self.standing()
            if one.kind == VISIT and one.body.get("calls")
        ]

    def times(self) -> Times:
        """What the own visits' readings, changes of state and repairs took."""
        bodies = [one.body for one in self.standing() if one.kind == VISIT]
        return together(
            [Times(body.get("minutes", {}), body.get("setups", ()), body.get("repairs", {})) for body in bodies]
        )

    def withdrawal(self, number: int, why: str) -> dict[str, Any]:
        """
        Body of the entry that withdraws another.

        Raises:
            BadInput: There is no such entry, or no reason is given.
        """
        doing = f"Cannot withdraw entry {number}"
        kinds = {one.number: one.kind for one in self.entries}
        if kinds.get(number) not in (VISIT, COUNTS, ACCEPTED, WITHDRAWN):
            able = ", ".join(str(key) for key, kind in kinds.items() if kind != EXPORTED)
            raise BadInput(doing, f"entry {number}", able or "none yet", "Look them up with 'kilter learn show'.")
        if not why.strip():
            raise BadInput(doing, "no reason", "a few words", "Say why with --why.")
        return {"entry": number, "why": why.strip()}


def counts_of(body: Mapping[str, Any], doing: str = "Cannot read counts") -> list[Count]:
    """
    The counts in plain data.

    Raises:
        BadInput: They are not what counts can be.
    """
    found = []
    for row in body.get("counts", ()):
        try:
            numbers = [row["parts"], row["objects"], *row["failures"].values()]
            if not all(isinstance(n, int) and not isinstance(n, bool) for n in numbers):
                raise BadInput(doing, f"{row!r}", "whole numbers", "Correct the counts.")
            found.append(Count(str(row["kind"]), str(row["band"]), numbers[0], dict(row["failures"]), numbers[1]))
        except (KeyError, TypeError, AttributeError):
            raise BadInput(
                doing, f"{row!r}", "kind, band, parts, failures and objects", "Correct the counts."
            ) from None
    return [checked(one, doing) for one in found]


def plain_counts(counts: Sequence[Count]) -> list[dict[str, Any]]:
    """Counts as plain data."""
    return [
        {"kind": one.kind, "band": one.band, "parts": one.parts, "objects": one.objects,
         "failures": dict(sorted(one.failures.items()))}
        for one in counts
    ]  # fmt: skip


@dataclass
class Total:
    """Counts of one kind and age, added up."""

    parts: int = 0
    objects: int = 0
    failures: dict[str, int] = field(default_factory=dict)

    def add(self, count: Count) -> None:
        """Counts one more in."""
        self.parts += count.parts
        self.objects += count.objects
        for family, failed in count.failures.items():
            self.failures[family] = self.failures.get(family, 0) + failed


def totals(counts: Sequence[Count]) -> list[Count]:
    """Counts with those of one kind and age added up, in order."""
    sums: dict[tuple[str, str], Total] = {}
    for one in counts:
        sums.setdefault((one.kind, one.band), Total()).add(one)
    return [Count(*key, one.parts, one.failures, one.objects) for key, one in sorted(sums.items())]
