"""
The soak on the pages: the plan is superseded, what cannot be a limit is said, long logs go to the worker, and what was
recorded stands in the report.

Expected figures are closed forms: T / -ln(1 - C) for hours without failure (NIST/SEMATECH e-Handbook, 8.4.5.1).
"""

from __future__ import annotations

import math
import tomllib
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from web_world import World

from kilter.store.models import Job, SoakFinding, SoakPlan
from kilter.store.verbs.visits import set_visit
from kilter.wiring import record_soak
from kilter.wiring.worker import work_off_one

ROW = {"name-0": "B", "quantity-0": "voltage", "low-0": "4.9 V", "high-0": "5.1 V", "why-0": "by hand"}


def text(world: World, name: str, role: str = "reader") -> str:
    return str(world.client(role).get(world.path(name)).body.decode())


def sent(world: World, name: str, told: dict[str, Any], status: int = 302) -> Any:
    answer = world.client("recorder").post(world.path(name), told)
    assert answer.status_code == status, answer.body.decode()[-800:]
    return answer


def test_the_verdict_stands_with_its_reason_and_what_it_proves(world: World) -> None:
    page = text(world, "soak")
    assert "no change and no drift were seen" in page
    assert f"{119 / 60 / math.log(10):.3g} h" in page  # 119 minutes, 90 %
    assert "switched on once without failure" in page
    picture = world.client("reader").get(world.path("soak_picture"))
    assert picture["Content-Type"] == "image/svg+xml"
    assert b"B / V" in picture.body


def test_a_plan_is_changed_by_a_new_one_and_is_a_file(world: World) -> None:
    first = world.soak
    assert first is not None
    told = {**ROW, "hours": "12,5", "state": "bench", "supersedes": str(first.pk), "words": "closing time",
            "name-1": "rise", "quantity-1": "temperature_rise", "low-1": "", "high-1": "40 K", "why-1": ""}  # fmt: skip
    sent(world, "soak_plan", told)
    plan = SoakPlan.objects.get(supersedes=first)
    assert (plan.hours, [one["name"] for one in plan.channels]) == (12.5, ["B", "rise"])
    assert "Earlier plans" in text(world, "soak")
    file = tomllib.loads(text(world, "soak_plan_file"))
    assert file["channels"]["B"]["high"] == "5.1 V"
    assert "a plan that was changed meanwhile" in sent(world, "soak_plan", told, 400).body.decode()


@pytest.mark.parametrize(
    ("field", "typed", "found"),
    [("low-0", "5.2 V", "5.2 and 5.1"), ("high-0", "5.1 A", "5.1 A"), ("low-0", "4x9 V", "4x9"),
     ("hours", "long", "long"), ("name-0", "", "without a channel"), ("hours", "-1", "-1 h")],
)  # fmt: skip
def test_what_cannot_be_is_said_and_stays(world: World, field: str, typed: str, found: str) -> None:
    assert world.soak is not None
    told = {**ROW, "hours": "8", "state": "bench", "supersedes": str(world.soak.pk), "words": "x", field: typed}
    page = sent(world, "soak_plan", told, 400).body.decode()
    assert found in page
    assert f'value="{typed}"' in page


def test_a_log_is_brought_judged_and_recorded(world: World) -> None:
    """Two values beyond 5.1 V in a row stop it: one failure of the log, and one that a person counted."""
    log = "time (min),B (V)\n" + "".join(f"{at},{5.0 if at < 30 else 5.2}\n" for at in range(40))
    sent(world, "bring_soak_log", {"logs": SimpleUploadedFile("day 2.csv", log.encode())})
    page = text(world, "soak")
    assert "beyond its limits from 0.5 h on" in page
    sent(world, "record_soak", {"failures": "1", "words": "a pop was heard"})
    finding = SoakFinding.objects.get()
    assert (finding.verdict, finding.failures, finding.told["failures"]) == ("stop", 1, 2)
    assert "This is recorded" in text(world, "soak")
    report = text(world, "report")
    assert "verdict stop" in report
    assert "a pop was heard" in report
    assert "with 2 failures" in report


def test_without_a_record_the_report_says_so(world: World) -> None:
    report = text(world, "report")
    assert "It was not done, or nothing of it was judged" in report
    assert "No repair was held against an acceptance list" in report


def test_long_logs_go_to_the_worker(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(record_soak, "number", lambda *_: 10.0)
    assert "Have them judged" in text(world, "soak", "recorder")
    refused = sent(world, "record_soak", {"failures": "0"}, 400)
    assert "Have them judged first" in refused.body.decode()
    Job.objects.all().delete()
    asked = sent(world, "judge_soak", {"failures": "2"})
    assert work_off_one("a worker")
    assert "To the verdict of the soak" in world.client("reader").get(asked["Location"]).body.decode()
    sent(world, "record_soak", {})
    assert SoakFinding.objects.get().told["failures"] == 2


def test_a_log_that_is_none_is_said(world: World) -> None:
    sent(world, "bring_soak_log", {"logs": SimpleUploadedFile("notes.txt", b"dear diary\n")})
    page = text(world, "soak")
    assert "notes.txt" in page
    assert 'role="alert"' in page


def test_a_closed_visit_shows_and_takes_nothing(world: World) -> None:
    set_visit(world.scene.who("recorder"), world.visit, "closed")
    page = text(world, "soak", "recorder")
    assert "no change and no drift were seen" in page
    assert "Record the verdict" not in page
    sent(world, "record_soak", {"failures": "0"}, 400)
