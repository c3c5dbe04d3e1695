"""
Several readings at once: all of them or none, in order, and one row of the journal tells of them with their file.

That a transaction is whole or nothing is atomicity (Haerder and Reuter, 1983; from memory); what the journal has to
tell is our own rule (docs/store.md).
"""

from __future__ import annotations

import json
import math

import pytest
from record_scene import Scene

from kilter.measure.errors import BadInput, NotAllowed
from kilter.records.reading import Reading
from kilter.store.journal import head
from kilter.store.models import JournalRow, Visit, VisitEntry
from kilter.store.stored import find_break
from kilter.store.verbs.visits import EVIDENCE, add_readings, log_of, set_visit


def rows(*values: float, **words: str) -> list[tuple[dict[str, str], Reading]]:
    named = [(f"P{place}", value) for place, value in enumerate(values)]
    return [({"point": point, "value": f"{value} V", **words}, Reading(point, "voltage", value, state="bench"))
            for point, value in named]  # fmt: skip


def standing(visit: Visit) -> tuple[int, int]:
    return VisitEntry.objects.filter(visit=visit).count(), head()[0]


def test_in_order_and_told_once(record: Scene) -> None:
    visit = record.a_visit()
    digest = record.a_file(visit.object, b"\x93NUMPY rises").attachment.sha256
    before = head()[0]
    made = add_readings(record.who("recorder"), visit, rows(1.0, 2.0, 3.0, **{EVIDENCE: digest}), after=0)
    assert [one.number for one in made] == [1, 2, 3]
    assert [one.value for one in log_of(visit).readings()] == [1.0, 2.0, 3.0]
    assert head()[0] == before + 1
    told = JournalRow.objects.order_by("-number")[0]
    assert sorted(json.loads(told.after)["rows"]) == sorted(f"visitentry {one.pk}" for one in made)
    assert told.evidence == digest
    assert find_break() is None


@pytest.mark.parametrize("spoilt", [
    [({"point": "P9"}, Reading("P9", "voltage", math.nan))],
    [({"point": "P9", "note": "x" * 2001}, Reading("P9", "voltage", 1.0))],
    [({"point": "P9", EVIDENCE: "0" * 64}, Reading("P9", "voltage", 1.0))],
    [({"point": "P9"}, Reading("P" * 121, "voltage", 1.0))],
], ids=["no number", "long note", "unknown file", "long point"])  # fmt: skip
def test_none_where_the_last_cannot_be_kept(record: Scene, spoilt: list[tuple[dict[str, str], Reading]]) -> None:
    visit, actor = record.a_visit(), record.who("recorder")
    before = standing(visit)
    with pytest.raises(BadInput):
        add_readings(actor, visit, [*rows(1.0, 2.0), *spoilt], after=0)
    assert standing(visit) == before


def test_who_when_and_after_what(record: Scene) -> None:
    visit = record.a_visit()
    record.an_entry(visit)
    reader = record.who("reader")
    before = standing(visit)
    with pytest.raises(BadInput, match="entry 1, while you looked at entry 0"):
        add_readings(record.who("recorder"), visit, rows(1.0), after=0)
    with pytest.raises(BadInput, match="no reading"):
        add_readings(record.who("recorder"), visit, [], after=1)
    with pytest.raises(NotAllowed):
        add_readings(reader, visit, rows(1.0), after=1)
    assert standing(visit) == before
    set_visit(record.who("recorder"), visit, "closed", "done")
    with pytest.raises(BadInput, match="closed"):
        add_readings(record.who("recorder"), visit, rows(1.0), after=1)
