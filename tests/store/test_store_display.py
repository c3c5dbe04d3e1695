"""Objects on display in the record: hours that cannot be are refused, corrections keep what was, the journal tells."""

from __future__ import annotations

import json
from datetime import date, timedelta
from typing import Any

import pytest
from display_scene import JUNE, MAY, display_fill
from record_scene import Scene, by_force, last_entry

from kilter.measure.errors import BadInput, NotAllowed
from kilter.store.check import check
from kilter.store.journal import now
from kilter.store.models import DisplayInspection, DisplayPeriod, PartsRenewed, RunningEntry, WearingParts
from kilter.store.verbs.inspections import Inspected, take_inspection_back, write_inspection
from kilter.store.verbs.running import METER, RAN, ROOM, Ran, take_running_back, write_running
from kilter.store.verbs.showings import Showing, show, take_showing_back
from kilter.store.verbs.wearing import Renewal, set_wearing, take_renewal_back, take_wearing_back, write_renewal


def test_a_stretch_is_corrected_by_a_later_one(record: Scene) -> None:
    who, one = record.who("registrar"), record.an_object()
    first = show(who, one, Showing(MAY, place="hall", figures={"hours_a_week": 0.0}))
    assert (first.hours_a_week, first.switch_ons_a_week) == (0.0, None)
    with pytest.raises(BadInput, match="told already"):
        show(who, one, Showing(JUNE))
    with pytest.raises(BadInput, match="nothing under 'reason'"):
        show(who, one, Showing(MAY, JUNE), supersedes=first)
    ended = show(who, one, Showing(MAY, JUNE), "taken off", supersedes=first)
    assert list(DisplayPeriod.objects.standing()) == [ended]
    show(who, one, Showing(JUNE))
    with pytest.raises(BadInput, match="took the place of"):
        show(who, one, Showing(MAY, JUNE), "again", supersedes=first)
    with pytest.raises(BadInput, match="another object"):
        show(who, record.an_object("HC 0418"), Showing(MAY, JUNE), "x", supersedes=ended)
    take_showing_back(who, ended, "it stood in the store")
    assert DisplayPeriod.objects.standing().count() == 1
    assert DisplayPeriod.objects.count() == 4


@pytest.mark.parametrize(("told", "found"), [
    (Showing(None), "no day"), (Showing(MAY, date(2025, 4, 1)), "before 2025-05-01"),
    (Showing(date(1066, 10, 14)), "1066-10-14"), (Showing(MAY, figures={"hours_a_week": 169.0}), "169 h"),
    (Showing(MAY, figures={"warmth": float("nan")}), "nan K"), (Showing(MAY, figures={"hours_before": -1.0}), "-1 h"),
    (Showing(MAY, place="x" * 201), "201 characters"),
])  # fmt: skip
def test_stretches_that_cannot_be(record: Scene, told: Showing, found: str) -> None:
    with pytest.raises(BadInput, match=found):
        show(record.who("registrar"), record.an_object(), told)
    assert not DisplayPeriod.objects.exists()


def test_a_meter_grows_no_faster_than_the_clock(record: Scene) -> None:
    """A day has 24 hours; from 1 May to 1 June are 31 days and part of a 32nd."""
    who, one = record.who("recorder"), record.an_object()
    first = write_running(who, one, Ran(METER, MAY, hours=100.0, switch_ons=7))
    with pytest.raises(BadInput, match="at most 768 h"):
        write_running(who, one, Ran(METER, JUNE, hours=869.0))
    write_running(who, one, Ran(METER, JUNE, hours=868.0))
    with pytest.raises(BadInput, match="never goes backwards"):
        write_running(who, one, Ran(METER, JUNE + timedelta(3), hours=5.0))
    with pytest.raises(BadInput, match="never goes backwards"):  # also what is written in between, afterwards
        write_running(who, one, Ran(METER, MAY + timedelta(40), switch_ons=6))
    write_running(who, one, Ran(METER, JUNE + timedelta(3), hours=5.0, anew=True))
    with pytest.raises(BadInput, match="never goes backwards"):
        write_running(who, one, Ran(METER, MAY, hours=900.0), "misread", supersedes=first)
    right = write_running(who, one, Ran(METER, MAY, hours=110.0), "misread", supersedes=first)
    take_running_back(who, right, "another machine's meter")
    assert RunningEntry.objects.standing().count() == 2


def test_days_are_told_once(record: Scene) -> None:
    who, one = record.who("recorder"), record.an_object()
    write_running(who, one, Ran(RAN, JUNE, MAY, hours=40.0))
    with pytest.raises(BadInput, match="told already"):
        write_running(who, one, Ran(RAN, JUNE, hours=4.0))
    write_running(who, one, Ran(RAN, JUNE, switch_ons=2))  # nobody told these
    with pytest.raises(BadInput, match="at most 24 h"):
        write_running(who, one, Ran(RAN, JUNE + timedelta(1), hours=25.0))
    with pytest.raises(BadInput, match="before the last one"):
        write_running(who, one, Ran(RAN, MAY, JUNE, hours=1.0))


@pytest.mark.parametrize(("told", "found"), [
    (Ran(METER, MAY), "neither hours nor switch-ons"), (Ran(METER, None, hours=1.0), "no day"),
    (Ran("guessed", MAY, hours=1.0), "'guessed' as kind"), (Ran(METER, MAY, hours=-1.0), "-1 h"),
    (Ran(METER, MAY, hours=float("inf")), "inf h"), (Ran(ROOM, MAY), "nothing about the room"),
    (Ran(ROOM, MAY, humidity=101.0), "101 %"), (Ran(ROOM, MAY, celsius=-80.0), "-80 degC"),
    (Ran(METER, now().date() + timedelta(9), hours=1.0), "to today"),
])  # fmt: skip
def test_hours_that_cannot_be(record: Scene, told: Ran, found: str) -> None:
    with pytest.raises(BadInput, match=found):
        write_running(record.who("recorder"), record.an_object(), told)
    assert not RunningEntry.objects.exists()


def test_nothing_ran_is_written_as_0_and_is_not_unknown(record: Scene) -> None:
    row = write_running(record.who("recorder"), record.an_object(), Ran(RAN, MAY, hours=0.0))
    assert RunningEntry.objects.get(pk=row.pk).hours == 0.0
    assert RunningEntry.objects.get(pk=row.pk).switch_ons is None


def test_what_was_found_is_told(record: Scene) -> None:
    who, one = record.who("recorder"), record.an_object()
    for outcome in ("something found", "not finished"):
        with pytest.raises(BadInput, match="without a word"):
            write_inspection(who, one, Inspected("electrical", MAY, outcome))
    with pytest.raises(BadInput, match="'soul' as what was inspected"):
        write_inspection(who, one, Inspected("soul", MAY, "nothing found"))
    with pytest.raises(BadInput, match="a later day"):
        write_inspection(who, one, Inspected("dust", JUNE, "nothing found", again=MAY))
    row = write_inspection(who, one, Inspected("dust", MAY, "nothing found"))
    take_inspection_back(who, row, "the wrong object")
    assert list(DisplayInspection.objects.standing()) == []


def test_what_wears_is_said_anew(record: Scene) -> None:
    who, one = record.who("repairer"), record.an_object()
    first = set_wearing(who, one, "belt", 3)
    second = set_wearing(who, one, "belt", 2, "the third is a spring")
    assert second.supersedes == first
    take_wearing_back(who, second, "counted anew")
    assert not WearingParts.objects.standing().exists()
    for kind, count, found in (("flux", 1, "'flux' as kind"), ("belt", -1, "-1 under"), ("belt", 99_999, "99999")):
        with pytest.raises(BadInput, match=found):
            set_wearing(who, one, kind, count)


def test_renewals_belong_to_the_object(record: Scene) -> None:
    who, one = record.who("repairer"), record.an_object()
    strange = record.a_repair(record.an_object("HC 0418"))
    with pytest.raises(BadInput, match="another object"):
        write_renewal(who, one, Renewal("belt", MAY, 1, repair=strange))
    with pytest.raises(BadInput, match="3 failed of 2"):
        write_renewal(who, one, Renewal("belt", MAY, 2, 3))
    with pytest.raises(BadInput, match="no parts"):
        write_renewal(who, one, Renewal("belt", MAY, 0))
    row = write_renewal(who, one, Renewal("belt", MAY, 2))
    assert row.failed is None
    take_renewal_back(who, row, "they were cleaned")
    assert PartsRenewed.objects.count() == 2


@pytest.mark.parametrize("role", ["reader", "administrator", "nobody", "stranger"])
def test_who_may_not(record: Scene, role: str) -> None:
    one, who = record.an_object(), record.who(role)
    deeds: list[Any] = [
        lambda: show(who, one, Showing(MAY)), lambda: write_running(who, one, Ran(METER, MAY, hours=1.0)),
        lambda: write_inspection(who, one, Inspected("dust", MAY, "nothing found")),
        lambda: set_wearing(who, one, "belt", 1), lambda: write_renewal(who, one, Renewal("belt", MAY, 1)),
    ]  # fmt: skip
    for deed in deeds:
        with pytest.raises(NotAllowed):
            deed()


def test_the_journal_tells_days(record: Scene) -> None:
    one = record.an_object()
    row = show(record.who("registrar"), one, Showing(MAY, place="hall"))
    told = json.loads(last_entry().after)["rows"][f"displayperiod {row.pk}"]
    assert (told["begin"], told["end"], told["hours_a_week"]) == ("2025-05-01", None, None)
    assert last_entry().what == f"object {one.number}"


def test_the_check_finds_an_altered_day(record: Scene) -> None:
    display_fill(record)
    assert check().wrong == ()
    by_force("store_runningentry", "UPDATE store_runningentry SET day = %s", "2025-05-02")
    assert any("runningentry" in one and "day" in one for one in check().wrong)


def test_the_command_reads_the_record(record: Scene, capsys: pytest.CaptureFixture[str], monkeypatch: Any) -> None:
    """Nobody counted a switch-on; the meter was read once, so hours are not known either."""
    import kilter.cli.record_home as record_home
    from kilter.cli.main import run
    from kilter.store.place import place

    monkeypatch.setattr(record_home, "open_record", lambda *_: None)  # the tests' own record is open
    display_fill(record)
    assert run(["display", "--home", str(place().home), "--on", "2025-07-01", "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    (one,) = told["objects"]
    assert (one["object"], one["hours"], one["switch_ons"], one["hours_basis"]) == ("HC 0620", None, None, "assumed")
    # dust was inspected on 1 May and comes again after six months
    assert {row["key"]: row["day"] for row in told["due"]}["dust"] == "2025-11-01"
    assert run(["display"]) == run(["display", "x.toml", "--home", "y"]) == 2
