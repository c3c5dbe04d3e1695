"""Soaks in the record: what cannot be a plan is refused, nothing is changed, and a finding rests on its own log."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from record_scene import Scene, last_entry
from soak_scene import CHANNELS, a_finding, a_log, a_plan, minutes

from kilter.measure.errors import BadInput
from kilter.services.tell_soak import proved_words, told_soak
from kilter.store.check import check
from kilter.store.models import SoakPlan
from kilter.store.verbs.jobs import ask_for
from kilter.store.verbs.soaks import (
    plan_soak_of,
    record_soak_finding,
    soak_logs,
    standing_finding,
    standing_plan,
)
from kilter.store.verbs.visits import set_visit
from kilter.wiring import record_soak
from kilter.wiring.record_soak import is_long, judged, of_the_worker, rows_of
from kilter.wiring.worker import work_off_one


def test_a_plan_is_changed_by_another(record: Scene) -> None:
    first = a_plan(record)
    second = plan_soak_of(record.who("recorder"), first.visit, 8.0, CHANNELS, words="closing time", supersedes=first)
    assert standing_plan(first.visit) == second
    assert SoakPlan.objects.get(pk=first.pk).hours == 24.0
    with pytest.raises(BadInput, match="another plan"):
        plan_soak_of(record.who("recorder"), first.visit, 9.0, CHANNELS, supersedes=first)
    assert last_entry().why == "closing time"


@pytest.mark.parametrize(
    ("hours", "channel", "found"),
    [(0.0, {}, "0 h"), (math.nan, {}, "nan h"), (1e9, {}, r"1e\+09 h"), (8.0, {"name": " "}, "nothing under 'channel'"),
     (8.0, {"quantity": "colour"}, "'colour'"), (8.0, {"low": 5.25}, "5.25 and 5.25"), (8.0, {"high": math.nan}, "V5"),
     (8.0, {"low": math.inf}, "V5")],
)  # fmt: skip
def test_what_cannot_be_a_plan(record: Scene, hours: float, channel: dict[str, Any], found: str) -> None:
    with pytest.raises(BadInput, match=found):
        plan_soak_of(record.who("recorder"), record.a_visit(), hours, [{**CHANNELS[0], **channel}])


def test_channels_have_names_of_their_own(record: Scene) -> None:
    visit = record.a_visit()
    with pytest.raises(BadInput, match="twice"):
        plan_soak_of(record.who("recorder"), visit, 8.0, [*CHANNELS, {**CHANNELS[0], "name": "v5"}])
    with pytest.raises(BadInput, match="0 channels"):
        plan_soak_of(record.who("recorder"), visit, 8.0, [])


def test_a_finding_names_its_log_and_its_plan(record: Scene) -> None:
    plan = a_plan(record)
    finding = a_finding(record, plan, words="smelled of nothing")
    (log,) = soak_logs(plan.visit)
    assert finding.logs == [{"name": "day 1.csv", "sha256": log.attachment.sha256}]
    assert last_entry().evidence == log.attachment.sha256
    # 199 minutes without failure, 90 %: T / -ln(1 - C), NIST/SEMATECH e-Handbook, 8.4.5.1
    assert finding.told["proofs"][-1]["least_mtbf_hours"] == pytest.approx(199 / 60 / math.log(10))
    assert json.loads(json.dumps(finding.told, allow_nan=False)) == finding.told
    assert check().wrong == ()


def test_a_finding_is_superseded_and_never_of_a_plan_that_was_changed(record: Scene) -> None:
    plan = a_plan(record)
    first = a_finding(record, plan)
    (log, *_) = soak_logs(plan.visit)
    told = told_soak(judged(plan, [log], 1).found)
    second = record_soak_finding(record.who("recorder"), plan, [log], told, failures=1, supersedes=first)
    assert standing_finding(plan.visit) == second
    assert second.told["failures"] == 1
    with pytest.raises(BadInput, match="another finding"):
        record_soak_finding(record.who("recorder"), plan, [log], told, supersedes=first)
    plan_soak_of(record.who("recorder"), plan.visit, 8.0, CHANNELS, supersedes=plan)
    with pytest.raises(BadInput, match="changed meanwhile"):
        record_soak_finding(record.who("recorder"), plan, [log], told, supersedes=second)
    assert standing_finding(plan.visit) == second  # kept, with the plan that it was judged by


def test_logs_of_another_visit_and_closed_visits(record: Scene) -> None:
    plan = a_plan(record)
    elsewhere = a_log(record, record.a_visit(record.an_object("HC 0631")))
    with pytest.raises(BadInput, match="another visit"):
        record_soak_finding(record.who("recorder"), plan, [elsewhere], {"verdict": "steady"})
    with pytest.raises(BadInput, match="no log"):
        record_soak_finding(record.who("recorder"), plan, [], {"verdict": "steady"})
    set_visit(record.who("recorder"), plan.visit, "closed")
    with pytest.raises(BadInput, match="closed"):
        plan_soak_of(record.who("recorder"), plan.visit, 8.0, CHANNELS, supersedes=plan)


def test_a_log_that_cannot_be_read_is_told_by_its_own_name(record: Scene) -> None:
    plan = a_plan(record)
    log = a_log(record, plan.visit, b"\x00\x01")
    with pytest.raises(BadInput, match=r"day 1\.csv"):
        judged(plan, [log])


def test_channels_come_back_as_they_were_kept(record: Scene) -> None:
    rows = [{"name": "V5", "quantity": "voltage", "low": None, "high": 5.25, "why": ""},
            {"name": "rise", "quantity": "", "low": None, "high": None, "why": "x"}]  # fmt: skip
    plan = plan_soak_of(record.who("recorder"), record.a_visit(), 8.0, rows)
    channels = record_soak.channels_of(plan)
    assert (channels[0].low, channels[0].high, channels[0].unit) == (-math.inf, 5.25, "V")
    assert rows_of(channels) == rows == plan.channels


def test_long_logs_are_judged_by_the_worker_alike(record: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = a_plan(record)
    log = a_log(record, plan.visit, minutes([5.0 + at % 7 / 1000 for at in range(300)] + [5.3] * 3))
    monkeypatch.setattr(record_soak, "number", lambda *_: 100.0)
    assert is_long([log])
    assert of_the_worker(plan.visit, plan, [log]) is None
    ask_for(record.who("recorder"), "soak verdict", {"visit": plan.visit.pk, "failures": 2})
    assert work_off_one("a worker")
    found = of_the_worker(plan.visit, plan, [log])
    assert found is not None
    assert found["soak"] == told_soak(judged(plan, [log], 2).found)
    assert found["soak"]["verdict"] == "stop"
    assert found["soak"]["failures"] == 3  # the session that passed a limit, and two that a person counted


def test_what_the_hours_prove_in_words() -> None:
    """216 h: 94 h with 90 % (e-Handbook, 8.4.5.1; docs/soak.md), and three times switched on: (1 - 0.9)^(1/3)."""
    told = {"hours": 216.0, "failures": 0, "least_switch_on": 0.1 ** (1 / 3), "sessions": [{}, {}, {}],
            "proofs": [{"confidence": 0.9, "least_mtbf_hours": 216 / math.log(10)}]}  # fmt: skip
    first, second, last = proved_words(told)
    assert "93.8 h with 90 % confidence" in first
    assert "3 times" in second
    assert "46 % of the times" in second
    assert "not that the object is safe" in last
