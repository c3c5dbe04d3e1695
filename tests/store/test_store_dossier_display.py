"""What the record tells of an object on display when it is handed over: hours in closed form, due days, what ended."""

from __future__ import annotations

import json
from datetime import date

import jsonschema_rs
import pytest
from display_scene import JUNE, MAY, display_fill
from record_scene import Scene

from kilter.exporters.report_json import dossier_json, schema_text
from kilter.records.dossier_display import LEFT_OUT, ToldCount
from kilter.store.models import CollectionObject
from kilter.store.verbs.inspections import Inspected, write_inspection
from kilter.store.verbs.running import METER, RAN, ROOM, Ran, take_running_back, write_running
from kilter.store.verbs.showings import Showing, show, take_showing_back
from kilter.wiring.record_dossier import dossier_of
from kilter.wiring.record_dossier_display import display_told

JULY = date(2025, 7, 1)


def test_hours_go_on_as_they_were_counted(record: Scene) -> None:
    """62 h in the 31 days of May are 2 h a day; 1 May to 1 July are 61 days, so 122 h (closed form)."""
    who, one = record.who("recorder"), record.an_object()
    show(record.who("registrar"), one, Showing(MAY, place="hall", figures={"hours_before": 350.0}))
    write_running(who, one, Ran(METER, MAY, hours=10.0))
    write_running(who, one, Ran(METER, JUNE, hours=72.0))
    hours, switched = display_told(one, JULY).counts
    assert (hours.what, hours.counted, hours.basis, hours.before) == ("hours", 62.0, "counted", 350.0)
    assert hours.reckoned == pytest.approx(122.0)
    assert switched == ToldCount("switch_ons")


def test_what_ended_is_told_with_how_and_by_whom(record: Scene) -> None:
    who, keeper, one = record.who("recorder"), record.who("registrar"), record.an_object()
    first = show(keeper, one, Showing(MAY, place="hall"))
    show(keeper, one, Showing(MAY, JUNE, place="hall"), "taken off", supersedes=first)
    wrong = write_running(who, one, Ran(RAN, MAY, hours=3.0))
    take_running_back(who, wrong, "another object")
    write_running(who, one, Ran(ROOM, MAY, celsius=31.5))
    told = display_told(one, JULY)
    assert (told.shown, told.now, told.due) == (True, False, ())
    assert [(row.end, row.ended.kind if row.ended else "") for row in told.stretches] == [
        ("", "replaced"), ("2025-06-01", ""),
    ]  # fmt: skip
    ran, room = sorted(told.running, key=lambda row: row.kind)
    assert ran.ended is not None
    assert (ran.ended.kind, ran.ended.why, ran.ended.who) == ("taken back", "another object", who.key)
    assert (room.celsius, room.humidity, room.ended) == (31.5, None, None)


def test_what_is_due_next_and_sooner_where_somebody_asked_for_it(record: Scene) -> None:
    one = record.an_object()
    show(record.who("registrar"), one, Showing(MAY))
    write_inspection(record.who("recorder"), one, Inspected("dust", MAY, "something found", "fluff", "Odile Marn",
                                                            date(2025, 8, 1)))  # fmt: skip
    told = display_told(one, JULY)
    due = {row.key: row for row in told.due}
    assert (due["dust"].day, due["dust"].last, due["dust"].over) == ("2025-08-01", "2025-05-01", False)
    assert (due["electrical"].last, due["electrical"].over) == ("", True)
    (row,) = told.inspections
    assert (row.words, row.inspector, row.again) == ("fluff", "Odile Marn", "2025-08-01")


def test_a_stretch_that_is_still_to_come_or_taken_back_was_never_on_display(record: Scene) -> None:
    keeper, one = record.who("registrar"), record.an_object()
    assert not display_told(one, JULY).shown
    show(keeper, one, Showing(date(2025, 9, 1)))
    take_showing_back(keeper, show(keeper, one, Showing(MAY, JUNE)), "it stood in the store")
    told = display_told(one, JULY)
    assert (told.shown, told.now, told.due) == (False, False, ())
    assert len(told.stretches) == 2
    assert all(count.reckoned is None for count in told.counts)


def test_the_dossier_of_a_whole_display_fits_the_schema(record: Scene) -> None:
    display_fill(record)
    whole = CollectionObject.objects.get(number="HC 0620")
    one, never = record.an_object("HC 0622"), record.an_object("HC 0623")
    show(record.who("registrar"), one, Showing(MAY))
    write_inspection(record.who("recorder"), one, Inspected("dust", MAY, "nothing found", inspector="Odile Marn"))
    schema = jsonschema_rs.validator_for(json.loads(schema_text()))
    for about in (whole, one, never):
        for named in (True, False):
            plain = json.loads(dossier_json(dossier_of(about, record.who("reader"), named=named)))
            schema.validate(plain)
            assert bool(plain["names"]) == named
            assert plain["display"]["shown"] == (about is not never)
    nameless = json.loads(dossier_json(dossier_of(one, record.who("reader"), named=False)))
    assert nameless["display"]["inspections"][0]["inspector"] == LEFT_OUT
    (renewal,) = display_told(whole, JULY).renewed
    assert (renewal.count, renewal.failed, renewal.from_work) == (3, 2, False)
