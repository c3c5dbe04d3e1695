"""
Hours from meters and days told one by one, wear of one object, and what nobody counted: it never turns into nothing.

Rates and totals are worked out by hand beside each check; the laws of lives are closed forms (Weibull: NIST/SEMATECH
e-Handbook 8.1.6.2; a gamma belief about a rate leaves (b / (b + t))^a alive: textbook result).
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from kilter.cli.main import run
from kilter.importers.display_file import read_display
from kilter.measure.errors import BadInput
from kilter.planning.display.models import wear_kinds
from kilter.planning.display.showing import DisplayObject, Renewed, Seen, Showing
from kilter.planning.display.stretches import Meter, Stretch, rate_of_stretches, stretches_of_meter
from kilter.planning.display.usage import ASSUMED, COUNTED, PLANNED
from kilter.planning.numbers import number
from kilter.services.forecast_display import forecast, rate_belief
from kilter.services.plan_display import plan_display
from kilter.services.stand_on_display import stand
from kilter.services.worn_parts import worn_parts

SINCE, TODAY = date(2024, 1, 1), date(2026, 1, 1)
UNKNOWN = DisplayObject("HC 1", "", SINCE, 1980, None, None, None, None, None, {"lamp": 2})


def test_a_meter_is_read_by_differences() -> None:
    read = [Meter(date(2024, 1, 1), 4000.0), Meter(date(2024, 3, 1), 4120.0), Meter(date(2024, 3, 5), 3.0, anew=True),
            Meter(date(2024, 4, 4), 63.0)]  # fmt: skip
    assert stretches_of_meter(read) == (
        Stretch(date(2024, 1, 1), date(2024, 3, 1), 120.0), Stretch(date(2024, 3, 5), date(2024, 4, 4), 60.0),
    )  # fmt: skip
    with pytest.raises(BadInput, match="never goes backwards"):
        stretches_of_meter([*read[:2], Meter(date(2024, 3, 5), 3.0)])


def test_days_that_nobody_counted_run_as_the_others() -> None:
    """120 h in 60 days are 2 h a day; 2024 and 2025 have 731 days."""
    shown = [(SINCE, date(2030, 1, 1))]
    found = rate_of_stretches([Stretch(date(2024, 1, 1), date(2024, 3, 1), 120.0)], None, shown, TODAY, assumed=9.0)
    assert (found.basis, found.told) == (COUNTED, 120.0)
    assert found.a_year == pytest.approx(2 * 365.25)
    assert found.so_far == pytest.approx(120 + 2 * (731 - 60))


def test_days_off_display_do_not_count() -> None:
    """A year away in between: 2 h on each of the 366 days of 2024 alone, and what ran meanwhile is wear, not a rate."""
    shown = [(SINCE, date(2025, 1, 1))]
    away = Stretch(date(2025, 2, 1), date(2025, 3, 1), 500.0)
    found = rate_of_stretches([Stretch(SINCE, date(2024, 3, 1), 120.0), away], None, shown, TODAY, assumed=9.0)
    assert found.a_year == pytest.approx(2 * 365.25)
    assert found.so_far == pytest.approx(120 + 500 + 2 * (366 - 60))


@pytest.mark.parametrize(
    ("planned", "a_year", "basis"), [(None, 9.0, ASSUMED), (0.0, 0.0, PLANNED), (5.0, 5.0, PLANNED)]
)
def test_too_few_days_make_no_rate(planned: float | None, a_year: float, basis: str) -> None:
    week = Stretch(SINCE, date(2024, 1, 8), 70.0)
    found = rate_of_stretches([week], planned, [(SINCE, TODAY)], TODAY, assumed=9.0)
    assert (found.a_year, found.basis, found.told) == (a_year, basis, 70.0)
    assert rate_of_stretches([], planned, [(SINCE, TODAY)], TODAY, assumed=9.0).told is None


def test_unknown_hours_never_become_none() -> None:
    found = stand(UNKNOWN, TODAY)
    assert not found.hours.known
    assert found.use.hours == number("display", "hours_a_year") > 0
    assert any("neither counted nor planned" in one for one in found.assumed)
    none = stand(replace(UNKNOWN, hours_a_year=0.0), TODAY)
    assert (none.hours.known, none.use.hours) == (True, 0.0)


def test_a_file_without_hours_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, wall = tmp_path / "a.toml", tmp_path / "wall.html"
    path.write_text('kilter = 1\ndisplay = "x"\n[objects."HC 1"]\nsince = 2024-01-01\nparts = { lamp = 2 }\n')
    assert run(["display", str(path), "--on", "2026-01-01", "--json", "--page", str(wall)]) == 3
    (told,) = json.loads(capsys.readouterr().out)["objects"]
    assert (told["hours"], told["hours_basis"], told["switch_ons"]) == (None, "assumed", None)
    assert run(["display", str(path), "--on", "2026-01-01"]) == 3
    assert "not known" in capsys.readouterr().out
    assert "<td>not known</td>" in wall.read_text("utf-8")


def test_rests_make_parts_younger() -> None:
    """Half of the two years away: half of the hours, and all of the years."""
    thing = replace(UNKNOWN, hours_a_year=1000.0, switch_ons_a_year=100.0,
                    renewed=(Renewed("lamp", 2, SINCE),))  # fmt: skip
    resting = replace(thing, stretches={}, rests=((date(2024, 7, 1), date(2025, 7, 1)),))
    ages = [worn_parts(Showing("", (one,)), [stand(one, TODAY)], "HC 1", TODAY)[0].group.age
            for one in (thing, resting)]  # fmt: skip
    assert ages[0].hours == pytest.approx(1000 * 731 / 365.25)
    assert ages[1].hours == pytest.approx(1000 * 366 / 365.25)
    assert ages[0].years == ages[1].years


def test_a_part_by_chance_follows_the_closed_form() -> None:
    thing = replace(UNKNOWN, hours_a_year=2000.0, parts={"chip": 40})
    (found,) = worn_parts(Showing("", (thing,)), [stand(thing, TODAY)], "HC 1", TODAY)
    shape, exposure = rate_belief(wear_kinds()["chip"], Seen(0, 0.0))
    one = (exposure / (exposure + 2000.0)) ** shape
    assert found.within_a_year == pytest.approx(1 - one**40)
    assert found.high == math.inf or found.low < found.middle < found.high


def test_a_worn_part_has_an_interval_that_holds_its_failures() -> None:
    """New lamps at 1500 h a year, life 3000 h to a factor of two: 1 - sum of w exp(-(1500 / (f 3000))^3) in a year."""
    import numpy as np

    thing = replace(UNKNOWN, hours_a_year=1500.0, parts={"lamp": 1}, renewed=(Renewed("lamp", 1, TODAY),))
    (found,) = worn_parts(Showing("", (thing,)), [stand(thing, TODAY)], "HC 1", TODAY)
    nodes, weights = np.polynomial.hermite_e.hermegauss(9)
    lives = float((weights / weights.sum()) @ np.exp(-((1500 / (2.0**nodes * 3000)) ** 3)))
    assert found.within_a_year == pytest.approx(1 - lives)
    assert found.low < found.middle < found.high < 20


def test_one_object_is_told_alone_with_what_all_tell_of_lives() -> None:
    showing = read_display(Path("src/kilter/data/demo/display.toml"))
    today = date(2025, 11, 3)
    every = {one.kind.key: one for one in forecast(showing, today, 5.0)[1]}
    heard: list[float] = []
    for one in forecast(showing, today, 5.0, only="HC 0620", told=lambda share, _: heard.append(share))[1]:
        assert set(one.by_object) == {"HC 0620"}
        assert one.by_object["HC 0620"] == pytest.approx(every[one.kind.key].by_object["HC 0620"])
        assert one.shelf is None
    assert heard[0] == 0.0
    assert heard == sorted(heard)


def test_somebody_may_want_it_sooner() -> None:
    """Looked at on 2 December 2025, due after twelve months; the one who looked wants it in May."""
    thing = replace(UNKNOWN, done={"electrical": date(2025, 12, 2)}, again={"electrical": date(2026, 5, 1)})
    rows = {one.key: one for one in plan_display(Showing("", (thing,)), TODAY, 1.0).due}
    assert rows["electrical"].day == date(2026, 5, 1)
    assert not rows["electrical"].over
