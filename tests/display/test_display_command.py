"""The display command: the demonstration file, what it says of unknowns, its calendar and its wall list."""

from __future__ import annotations

import json
import re
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

from kilter.cli.main import run
from kilter.exporters.calendar_file import calendar_file
from kilter.importers.display_file import read_display
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.parts.kinds import part_kinds
from kilter.planning.display.demand import mean_of
from kilter.planning.display.due import Due, due, later
from kilter.planning.display.usage import Count, rate_of
from kilter.services.forecast_display import forecast

DEMO = Path("src/kilter/data/demo/display.toml")
TODAY = date(2025, 11, 3)
PLAIN = """
kilter = 1
display = "two lamps"

[objects."HC 1"]
since = 2025-01-01
made = 1980
hours_a_week = 20
switch_ons_a_week = 5
parts = { chip = 100 }
"""


def told(capsys: pytest.CaptureFixture[str], *more: str, file: Path = DEMO) -> dict:
    assert run(["display", str(file), "--on", TODAY.isoformat(), "--json", *more]) in (0, 3)
    found: dict = json.loads(capsys.readouterr().out)
    return found


def test_the_demonstration(capsys: pytest.CaptureFixture[str]) -> None:
    found = told(capsys)
    first = found["objects"][0]
    # (2410 - 0) h in 941 days, by hand
    assert first["hours_a_year"] == pytest.approx(2410 / 941 * 365.25)
    assert first["hours"] == pytest.approx(2410 + 6 * 2410 / 941)
    assert "as planned, not counted" in " ".join(found["objects"][1]["assumed"])
    assert all(one["low"] <= one["mean"] + 1 and one["spares"] <= one["high"] for one in found["needs"])
    tube = next(one for one in found["renewals"] if one["kind"] == "picture_tube")
    assert tube["verdict"] == "leave it"  # heritage makes taking it out dearer than its failure
    assert tube["planned_minutes"] > tube["failure_minutes"]


def test_what_was_never_done_is_due_today_and_over(capsys: pytest.CaptureFixture[str]) -> None:
    rows = {(one["object"], one["key"]): one for one in told(capsys)["due"]}
    never = rows["HC 0701", "electrical"]
    assert never["day"] == TODAY.isoformat()
    assert never["over"]
    assert never["last"] is None
    # 2025-02-11 and twelve months
    assert rows["HC 0417", "electrical"]["day"] == "2026-02-11"
    assert not rows["HC 0417", "electrical"]["over"]
    # 2024-05-20 and twelve months are past
    assert rows["HC 0620", "electrical"]["over"]


def test_failures_by_chance_follow_the_closed_form(tmp_path: Path) -> None:
    """Gamma belief with the mean and variance of the rates: mean failures = (a / b) x hours, exactly."""
    path = tmp_path / "plain.toml"
    path.write_text(PLAIN + '\n[seen.chip]\nfailures = 4\nhours = 1e6\n')
    plain = tmp_path / "none.toml"
    plain.write_text(PLAIN)
    life, sigma = table("planning/wear")["chip"]["hours"]["life"], np.log(table("planning/wear")["chip"]["spread"])
    # a lognormal factor on the life: mean rate exp(sigma² / 2) / life, its variance mean² (exp(sigma²) - 1); nine nodes
    # come near to it
    mean = np.exp(sigma**2 / 2) / life
    shape, exposure = 1 / np.expm1(sigma**2), 1 / np.expm1(sigma**2) / mean
    ahead = 100 * 20 * 365.25 / 7 * 5
    (before,), (after,) = (forecast(read_display(one), TODAY, 5.0)[1] for one in (plain, path))
    assert before.mean == pytest.approx(shape / exposure * ahead, rel=0.01)
    assert after.mean == pytest.approx((shape + 4) / (exposure + 1e6) * ahead, rel=0.02)


def test_survivors_and_failures_move_the_belief(tmp_path: Path) -> None:
    """Belts that failed young shorten what is believed of belts, belts that lived lengthen it."""
    means = []
    for failed in (3, 0):
        path = tmp_path / f"{failed}.toml"
        path.write_text(PLAIN.replace("chip = 100", "belt = 3").replace("1980", "2015")
                        + f"renewed = [{{ kind = 'belt', count = 3, date = 2025-02-01, failed = {failed} }}]\n")
        (need,) = forecast(read_display(path), TODAY, 5.0)[1]
        means.append(need.mean)
        assert need.mean == pytest.approx(mean_of(need.chances))
    assert means[0] > 1.3 * means[1]


def test_more_hours_more_failures(tmp_path: Path) -> None:
    means = []
    for hours in (5, 20, 60):
        path = tmp_path / f"{hours}.toml"
        path.write_text(PLAIN.replace("chip = 100", "lamp = 4").replace("hours_a_week = 20", f"hours_a_week = {hours}"))
        means.append(forecast(read_display(path), TODAY, 5.0)[1][0].mean)
    assert means[0] < means[1] < means[2]


def test_rates_are_counted_from_counts_far_enough_apart() -> None:
    counts = [Count(date(2025, 1, 1), 10.0), Count(date(2025, 1, 11), 30.0)]
    assert not rate_of(counts, "hours", 500.0, date(2025, 1, 1), date(2025, 1, 21)).counted
    # ten days more at 500 h a year
    assert rate_of(counts, "hours", 500.0, date(2025, 1, 1), date(2025, 1, 21)).so_far == pytest.approx(
        30 + 500 * 10 / 365.25
    )


def test_months_end_where_they_end() -> None:
    assert later(date(2024, 1, 31), 1) == date(2024, 2, 29)
    assert later(date(2025, 12, 15), 2) == date(2026, 2, 15)
    assert due("HC 1", "dust", "Dust out", 6, date(2025, 1, 1), TODAY).over


def test_every_kind_of_part_that_wears_exists() -> None:
    for key, row in table("planning/wear").items():
        assert set(row["parts"]) <= set(part_kinds()), key
        assert row["source"]


DATES = (
    Due("HC 1", "dust", "Dust out, vents clear; lead \\ plug", date(2026, 2, 28), date(2025, 8, 31), 6, over=False),
    Due("HC 2", "look at belt", "Größe prüfen: " + "ä" * 80 + "\nund mehr", date(2026, 3, 1), None, 0, over=True),
)


def test_the_calendar_keeps_the_standard() -> None:
    """RFC 5545: lines of at most 75 octets and CR LF (3.1), a UID and DTSTAMP an event (3.6.1), escapes (3.3.11)."""
    text = calendar_file("Harrowmere; Cabinet", DATES, datetime(2025, 11, 3, 8, 0, tzinfo=UTC))
    raw = text.encode()
    assert raw.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    whole = text.replace("\r\n ", "")
    assert whole.count("BEGIN:VEVENT") == whole.count("UID:") == whole.count("DTSTAMP:20251103T080000Z") == 2
    assert len(set(re.findall(r"UID:(\S+)", whole))) == 2
    assert "SUMMARY:HC 1: Dust out\\, vents clear\\; lead \\\\ plug\r\n" in whole


def test_another_library_reads_the_calendar() -> None:
    icalendar = pytest.importorskip("icalendar")
    text = calendar_file("Harrowmere; Cabinet", DATES, datetime(2025, 11, 3, 8, 0, tzinfo=UTC))
    events = list(icalendar.Calendar.from_ical(text).walk("VEVENT"))
    assert [one.decoded("DTSTART") for one in events] == [one.day for one in DATES]
    assert [str(one["SUMMARY"]) for one in events] == [f"{one.object}: {one.words}" for one in DATES]
    assert events[0]["RRULE"] == {"FREQ": ["MONTHLY"], "INTERVAL": [6]}
    assert "RRULE" not in events[1]
    assert not [error for one in events for error in one.errors]


def test_files_are_written_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wall, calendar = tmp_path / "wall.html", tmp_path / "dates.ics"
    found = told(capsys, "--page", str(wall), "--calendar", str(calendar))
    assert calendar.read_bytes().count(b"BEGIN:VEVENT") == len(found["due"])
    page = wall.read_text("utf-8")
    assert page.count("class='box'") == len(found["due"])
    assert "<script" not in page
    assert run(["display", str(DEMO), "--on", "2025-11-03", "--page", str(wall)]) == 2


def test_hostile_words_stay_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, wall = tmp_path / "a.toml", tmp_path / "wall.html"
    path.write_text(PLAIN.replace('"two lamps"', '"<script>alert(1)</script>"'))
    told(capsys, "--page", str(wall), file=path)
    assert "<script" not in wall.read_text("utf-8")


def test_text_and_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("matplotlib")
    assert run(["display", str(DEMO), "--on", "2025-11-03", "--plot", str(tmp_path)]) == 3
    shown = capsys.readouterr().out
    assert "assumed" in shown
    assert "Leave until it fails" in shown
    assert (tmp_path / "needs.svg").exists()


@pytest.mark.parametrize(("old", "new", "named"), [
    ("kilter = 1", "kilter = 3", "kilter = 1"),
    ("since = 2025-01-01", "", "since"),
    ("since = 2025-01-01", 'since = "yesterday"', "2024-03-01"),
    ("made = 1980", "made = 2090", "1900"),
    ("chip = 100", "flux = 1", "belt"),
    ("chip = 100", "chip = -1", "whole number"),
    ("parts = { chip = 100 }", "", "board"),
    ("hours_a_week = 20", "hours_a_week = -1", "from 0"),
    ("hours_a_week = 20", "hours_a_weak = 20", "hours_a_week"),
    ("made = 1980", "renewed = [{ kind = 'chip', count = 200, date = 2025-02-01 }]", "at most 100"),
    ("made = 1980", "inspected = { soul = 2025-02-01 }", "electrical"),
    ("made = 1980", "climate = [{ date = 2025-02-01, humidity = 140 }]", "100"),
])  # fmt: skip
def test_bad_files_are_refused(tmp_path: Path, old: str, new: str, named: str) -> None:
    path = tmp_path / "bad.toml"
    assert old in PLAIN
    path.write_text(PLAIN.replace(old, new, 1))
    with pytest.raises(BadInput, match=re.escape(named)) as caught:
        read_display(path)
    assert all((caught.value.doing, caught.value.found, caught.value.allowed, caught.value.do_next))


@pytest.mark.parametrize("more", [["--on", "soon"], ["--years", "0"], ["--years", "99"], ["--on", "2020-01-01"]])
def test_bad_choices_end_with_code_2(more: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["display", str(DEMO), *more]) == 2
    assert "Allowed:" in capsys.readouterr().err


def test_a_count_that_falls_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.toml"
    path.write_text(PLAIN + "counts = [{ date = 2025-02-01, hours = 90 }, { date = 2025-04-01, hours = 20 }]\n")
    assert run(["display", str(path), "--on", "2025-11-03"]) == 2
    assert "never fall" in capsys.readouterr().err
