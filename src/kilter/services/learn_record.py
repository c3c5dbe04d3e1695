"""
Which visits of a record are still to be learned from, and which lessons no longer rest on what the record says.

A lesson rests on an outcome, the entries, the board, the age and the repairs of its visit: its basis. Where one of them
is no longer as it was, the lesson is withdrawn and learned anew; a lesson that a person withdrew stays withdrawn.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kilter.measure.tables import table
from kilter.services.experience import VISIT, WITHDRAWN, Entry, Experience

BASIS, AUTOMATIC = "basis", "automatic"
"""Keys in the body of a lesson from the record, and of a withdrawal that follows from the record alone."""
OTHERWISE = "the record no longer says what it rested on"
YEAR = re.compile(r"(?<!\d)(1[89]\d\d|20\d\d)(?!\d)")


@dataclass(frozen=True)
class Due:
    """
    What is to be done.

    Args:
        withdraw: Numbers of entries whose basis is gone.
        learn: Visits to learn from, by the digest that tells each from others.
    """

    withdraw: tuple[int, ...]
    learn: tuple[str, ...]


def due(experience: Experience, present: Mapping[str, str]) -> Due:
    """
    What the experience lacks, or has too much.

    Args:
        experience: As it is.
        present: Every visit that can teach, by the digest that tells it from others, with its basis now.
    """
    standing = {one.number for one in experience.standing()}
    ours = [one for one in experience.entries if one.kind == VISIT and one.body.get(BASIS)]
    gone = [one.number for one in ours
            if one.number in standing and present.get(str(one.body["visit"])) != one.body[BASIS]]  # fmt: skip
    by_hand = {int(one.body["entry"]) for one in experience.entries
               if one.kind == WITHDRAWN and one.number in standing and not one.body.get(AUTOMATIC)}  # fmt: skip
    learn = []
    for visit, basis in present.items():
        same = [one.number for one in ours if one.body["visit"] == visit and one.body[BASIS] == basis]
        if not any(number in standing for number in same) and not (same and same[-1] in by_hand):
            learn.append(visit)
    return Due(tuple(gone), tuple(learn))


def without(experience: Experience, visit: str) -> Experience:
    """The experience without what one visit taught, so that it is not judged by itself."""
    kept: list[Entry] = []
    for one in experience.entries:
        own = one.kind == VISIT and one.body.get("visit") == visit
        kept.append(Entry(one.number, one.time, one.who, VISIT, {"visit": visit}) if own else one)
    return Experience(tuple(kept))


def basis_of(*rests_on: Any) -> str:
    """
    Digest of what a lesson rests on.

    >>> basis_of(1, "a") == basis_of(1, "a"), basis_of(1, "a") == basis_of(2, "a")
    (True, False)
    """
    return hashlib.sha256(json.dumps(rests_on, sort_keys=True).encode()).hexdigest()


def years_at(made: str, year: int) -> float | None:
    """
    Age of an object, from the words for when it was made; None where they name no year, or years far apart.

    >>> years_at("about 1983", 2026), years_at("1978 to 1980", 2026), years_at("after the war", 2026)
    (43.0, 47.0, None)
    """
    years = [int(word) for word in YEAR.findall(made) if int(word) <= year]
    if not years or max(years) - min(years) > float(table("learning/outcomes")["longest_span"]["value"]):
        return None
    return year - (min(years) + max(years)) / 2
