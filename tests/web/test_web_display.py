"""
Objects on display by the pages: hours in, what is due out, a calendar that another library reads, and nothing invented.

Rates and days are worked out by hand beside each check; the calendar is read by the library icalendar (RFC 5545).
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from web_world import World

from kilter.planning.display.course import course_of
from kilter.services.stand_on_display import stand
from kilter.store.journal import now
from kilter.store.models import CollectionObject, DisplayPeriod, Job, RunningEntry
from kilter.store.verbs.repairs import record_repair
from kilter.store.verbs.running import METER, RAN, Ran, write_running
from kilter.store.verbs.showings import Showing, show
from kilter.wiring.record_display import display_object, stretches_of
from kilter.wiring.worker import FORECAST, work_off_one

BEGIN = date(2025, 5, 1)


def text(world: World, address: str, role: str = "all roles") -> str:
    answer = world.client(role).get(address)
    assert answer.status_code == 200
    return str(answer.content.decode())


def at(world: World, path: str = "") -> str:
    return f"/object/{world.object.pk}/display/{path}"


def test_hours_typed_become_a_rate(world: World) -> None:
    """12 h on 1 May; 379 h on 1 August, 92 days later: 367 / 92 x 365.25 h a year."""
    answer = world.client("recorder").post(at(world, "hours/"), {
        "kind": "meter read", "day": "2025-08-01", "hours": "379", "switch_ons": "", "celsius": "21,5",
        "humidity": "48",
    })  # fmt: skip
    assert (answer.status_code, answer["Location"]) == (302, at(world))
    today = now().date()
    found = stand(display_object(world.object, today), today)
    assert found.hours.a_year == pytest.approx(367 / 92 * 365.25)
    assert found.hours.told == 367
    assert not found.switch_ons.known
    assert found.thing.climate[0].celsius == 21.5  # the room became an entry of its own
    shown = text(world, at(world))
    assert '<line class="counted"' in shown
    assert "not known" in shown


def test_nobody_counted_and_nothing_is_invented(world: World) -> None:
    unknown = CollectionObject.objects.get(number="HC 0419")
    shown = text(world, f"/object/{unknown.pk}/display/")
    assert "What it ran is not known" in shown
    assert '<line class="counted"' not in shown
    assert "neither counted nor planned" in shown
    row = text(world, "/display/").split(f'href="/object/{unknown.pk}/display/">HC 0419')[-1].split("</tr>")[0]
    assert "not known" in row
    assert "assumed" in row


def test_an_inspection_moves_what_is_due(world: World) -> None:
    """Done today, due again after twelve months; what was not finished stays due."""
    today = now().date()
    address = f"{at(world, 'inspection/')}?key=electrical"
    assert 'value="electrical" selected' in text(world, address)
    told = {"key": "electrical", "day": today.isoformat(), "outcome": "not finished", "words": "the tester was flat"}
    assert world.client("recorder").post(at(world, "inspection/"), told).status_code == 302
    assert due_days(world)["electrical"] == (today, True)
    told |= {"outcome": "something found", "words": "a frayed lead", "again": (today + timedelta(9)).isoformat()}
    assert world.client("recorder").post(at(world, "inspection/"), told).status_code == 302
    assert due_days(world)["electrical"] == (today + timedelta(9), False)
    told |= {"outcome": "nothing found", "words": "", "again": ""}
    assert world.client("recorder").post(at(world, "inspection/"), told).status_code == 302
    year_on = today.replace(year=today.year + 1) if (today.month, today.day) != (2, 29) else date(today.year + 1, 2, 28)
    assert due_days(world)["electrical"] == (year_on, False)


def due_days(world: World) -> dict[str, tuple[date, bool]]:
    from kilter.wiring.display_dates import display_now

    there = display_now(now().date())
    return {one.key: (one.day, one.over) for one in there.due if one.object == world.object.number}


@pytest.mark.parametrize("which", ["all", "one"])
def test_another_library_reads_the_calendar(world: World, which: str) -> None:
    icalendar = pytest.importorskip("icalendar")
    address = "/display/calendar.ics" if which == "all" else at(world, "calendar.ics")
    answer = world.client("reader").get(address)
    assert answer["Content-Type"].startswith("text/calendar")
    calendar = icalendar.Calendar.from_ical(answer.content)
    events = calendar.walk("VEVENT")
    summaries = [str(one["SUMMARY"]) for one in events]
    assert "HC 0417: Dust out, vents clear, lead and plug looked at" in summaries
    assert any(one.startswith("HC 0419") for one in summaries) == (which == "all")
    assert not [error for one in events for error in one.errors]
    assert len({str(one["UID"]) for one in events}) == len(events)
    dust = next(one for one in events if one["SUMMARY"] == "HC 0417: Dust out, vents clear, lead and plug looked at")
    if dust.decoded("DTSTART").day <= 28:  # a later day has no fellow in every month
        assert dust["RRULE"]["INTERVAL"] == [6]
    later = icalendar.Calendar.from_ical(world.client().get(address).content).walk("VEVENT")
    assert {str(one["UID"]) for one in later} == {str(one["UID"]) for one in events}


def test_the_wall_list(world: World) -> None:
    shown = text(world, "/display/list/")
    assert "<script" not in shown
    assert shown.count("class='box'") > 5
    assert "<td>not known</td>" in shown


def test_what_cannot_be_stays_on_the_form(world: World) -> None:
    client = world.client("recorder")
    answer = client.post(at(world, "hours/"), {"kind": "meter read", "day": "2025-06-01", "hours": "9"})
    assert answer.status_code == 400
    assert 'value="9"' in answer.content.decode()
    assert "never goes backwards" in answer.content.decode()
    for hours in ("1,234", "a lot", "1e400", "--3"):
        answer = client.post(at(world, "hours/"), {"kind": "ran", "day": "2025-06-01", "hours": hours})
        assert answer.status_code == 400, hours
    answer = client.post(at(world, "hours/"), {"kind": "room", "day": "2025-06-01", "hours": "5", "celsius": "20"})
    assert answer.status_code == 400  # nothing that was typed is dropped without a word
    assert RunningEntry.objects.count() == 1


def test_hours_and_room_are_written_both_or_not_at_all(world: World) -> None:
    told = {"kind": "meter read", "day": "2025-06-01", "hours": "33", "celsius": "900"}
    assert world.client("recorder").post(at(world, "hours/"), told).status_code == 400
    assert RunningEntry.objects.count() == 1


def test_a_correction_and_taking_back(world: World) -> None:
    client = world.client("recorder")
    shown = text(world, f"{at(world, 'hours/')}?supersedes={world.hours.pk}")
    assert 'name="hours" value="12"' in shown
    told = {"kind": "meter read", "day": "2025-05-01", "hours": "14", "supersedes": world.hours.pk}
    assert client.post(at(world, "hours/"), told).status_code == 400  # no reason
    assert client.post(at(world, "hours/"), {**told, "why": "misread"}).status_code == 302
    (row,) = RunningEntry.objects.standing()
    assert row.hours == 14
    assert client.post(f"/display/hours/{row.pk}/back/", {"why": "the other machine"}).status_code == 302
    assert not RunningEntry.objects.standing().exists()
    assert client.get("/display/nothing/1/back/").status_code == 404


def test_a_replacement_that_nobody_counted_is_asked_for(world: World) -> None:
    """A belt is on no board; the record of its repair does not say what wore out, so it is asked."""
    repairer = world.scene.who("repairer")
    repair = record_repair(repairer, world.object, "replaced", 3, "a new belt", part="belt of the left reel")
    assert "nobody said what kind of part that is" in text(world, at(world))
    told = {"repair": repair.pk, "kind": "belt", "day": "2025-07-01", "count": "1", "failed": ""}
    assert world.client("repairer").post(at(world, "renewed/"), told).status_code == 302
    shown = text(world, at(world))
    assert "nobody said what kind of part that is" not in shown
    assert "rubber belt" in shown


def test_off_display_and_on_again(world: World) -> None:
    """Taken off after a month, put back a month later: the months between count for nothing."""
    (period,) = DisplayPeriod.objects.standing().filter(object=world.object)
    who = world.scene.who("registrar")
    show(who, world.object, Showing(BEGIN, date(2025, 6, 1)), "taken off", supersedes=period)
    assert "it is not on display now" in text(world, at(world))
    assert "HC 0417" not in text(world, "/display/")
    show(who, world.object, Showing(date(2025, 7, 1)))
    thing = display_object(world.object, date(2025, 8, 1))
    assert thing.rests == ((date(2025, 6, 1), date(2025, 7, 1)),)
    assert thing.shown_years(BEGIN, date(2025, 8, 1)) == pytest.approx((31 + 31) / 365.25)


def test_days_under_a_meter_count_once(world: World) -> None:
    who = world.scene.who("recorder")
    write_running(who, world.object, Ran(RAN, date(2025, 5, 20), date(2025, 5, 10), hours=30.0))
    assert [one.ticks for one in stretches_of(world.object, "hours")] == [30.0]
    write_running(who, world.object, Ran(METER, date(2025, 6, 1), hours=112.0))
    assert [one.ticks for one in stretches_of(world.object, "hours")] == [100.0]
    today = date(2025, 7, 1)
    thing = display_object(world.object, today)
    found = stand(thing, today)
    drawn = course_of(thing, found.hours, stretches_of(world.object, "hours"), today)
    assert drawn[-1].high == pytest.approx(found.hours.so_far)
    assert [one.counted for one in drawn] == [True, False]


def test_a_long_forecast_is_work_of_its_own(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    import kilter.web.pages.on_display as pages

    monkeypatch.setattr(pages, "at_once", lambda _: False)
    client = world.client("recorder")
    assert "Work it out" in text(world, "/display/ahead/?years=3")
    answer = client.post("/display/ahead/", {"years": "3"})
    job = Job.objects.filter(kind=FORECAST).latest("pk")
    assert answer["Location"] == f"/work/{job.pk}/"
    assert "It is being worked out" in text(world, "/display/ahead/?years=3")
    Job.objects.exclude(pk=job.pk).update(state="stopped")
    assert work_off_one("test")
    shown = text(world, "/display/ahead/?years=3")
    assert "rubber belt" in shown
    job.refresh_from_db()
    (need,) = [one for one in job.result["needs"] if one["kind"] == "belt"]
    assert need["low"] <= need["mean"] <= need["high"]
    assert "?years=3" in text(world, f"/work/{job.pk}/")
    assert client.get("/display/ahead/?years=4000").status_code == 400


@pytest.mark.parametrize(("role", "buttons"), [("reader", 0), ("recorder", 2), ("repairer", 2)])
def test_buttons_are_for_those_who_may(world: World, role: str, buttons: int) -> None:
    shown: Any = text(world, at(world), role)
    assert shown.count('class="button"') == buttons
