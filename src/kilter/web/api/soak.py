"""The soak of a visit: its plan, what its logs told, and the record of it."""

from __future__ import annotations

from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantities
from kilter.services.tell_soak import told_soak
from kilter.store.models import SoakFinding, SoakPlan
from kilter.store.verbs.soaks import (
    FINDING,
    MOST_CHANNELS,
    MOST_FAILURES,
    plan_soak_of,
    record_soak_finding,
    soak_logs,
    standing_finding,
    standing_plan,
)
from kilter.store.verbs.visits import RECORD
from kilter.web.api.fields import BY, ID, TOLD, by
from kilter.web.api.found import visit_of
from kilter.web.api.operation import Call, Operation, looks, makes
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Anything, Many, Maybe, Number, Text, Whole, Words, line
from kilter.wiring.record_soak import is_long, judged, of_the_worker, proposed_for, rows_of

QUANTITIES = ("", *quantities())
LIMIT = Field(Maybe(Number()), "in the unit of the quantity; null for none")
CHANNEL = Record("SoakChannel", {"name": TOLD, "quantity": TOLD, "low": LIMIT, "high": LIMIT, "why": TOLD})
NEW_CHANNEL = Record("NewSoakChannel", {
    "name": Field(line(60), "column of the log"), "quantity": may(Words(QUANTITIES)), "low": may(Maybe(Number())),
    "high": may(Maybe(Number())), "why": may(Text(300), "where the limits come from"),
})  # fmt: skip
PLAN = Record("SoakPlan", {"id": ID, "hours": Number(), "state": TOLD, "channels": Many(CHANNEL), "words": TOLD, **BY})
FOUND = Record("SoakFinding", {
    "id": ID, "plan": Field(Whole(1), "id of the plan that it was judged by"), "verdict": TOLD,
    "failures": Field(Whole(), "that a person counted and no channel shows"),
    "logs": Field(Anything(), "name and sha256 of each"),
    "told": Field(Anything(), "as 'kilter soak judge --json' prints it"), "words": TOLD, **BY,
})  # fmt: skip
SOAK = Record("Soak", {
    "plan": Maybe(PLAN), "logs": Field(Many(Whole(1)), "ids of files of the kind 'soak log'"), "finding": Maybe(FOUND),
})  # fmt: skip
NEW_PLAN = Record("NewSoakPlan", {
    "hours": Number(0, 10_000), "state": may(Text(120), "powered state of the object"),
    "channels": may(Many(NEW_CHANNEL, MOST_CHANNELS), "made from the visit's board unless given"),
    "words": may(Text(2000), "why"),
    "supersedes": Field(Maybe(Whole(1)), "id of the plan that stands; null where none does"),
})  # fmt: skip
NEW_FINDING = Record("NewSoakFinding", {
    "failures": may(Whole(0, MOST_FAILURES), "that no channel shows"), "words": may(Text(4000), "what was noticed"),
    "supersedes": Field(Maybe(Whole(1)), "id of the finding that stands; null where none does"),
})  # fmt: skip


def tell_plan(one: SoakPlan) -> dict[str, Any]:
    """A plan."""
    return {"id": one.pk, "hours": one.hours, "state": one.state, "channels": one.channels, "words": one.words,
            **by(one)}  # fmt: skip


def tell_finding(one: SoakFinding) -> dict[str, Any]:
    """What was recorded of logs."""
    names = ("verdict", "failures", "logs", "told", "words")
    return {"id": one.pk, "plan": one.plan_id, **{name: getattr(one, name) for name in names}, **by(one)}


def _look(call: Call) -> Any:
    visit = visit_of(call)
    plan, finding = standing_plan(visit), standing_finding(visit)
    return {"plan": tell_plan(plan) if plan else None, "logs": [one.pk for one in soak_logs(visit)],
            "finding": tell_finding(finding) if finding else None}  # fmt: skip


def _plan(call: Call) -> Any:
    visit, body = visit_of(call), call.body
    stands, state = standing_plan(visit), body.get("state", "")
    _still(stands, body["supersedes"], "Cannot keep the plan of the soak")
    channels = [{"quantity": "", "low": None, "high": None, "why": "", **one} for one in body.get("channels", ())]
    if not channels:
        made = proposed_for(visit, body["hours"], state)
        channels, state = rows_of(made.channels), made.state
    return tell_plan(plan_soak_of(call.actor, visit, body["hours"], channels, state=state,
                                  words=body.get("words", ""), supersedes=stands))  # fmt: skip


def _record(call: Call) -> Any:
    visit, body = visit_of(call), call.body
    plan, logs, stands, failures = standing_plan(visit), soak_logs(visit), standing_finding(visit), 0
    _still(stands, body["supersedes"], FINDING)
    if plan is None or not logs:
        raise BadInput(FINDING, "no plan or no log", "a plan and one log or more", "Make the plan, bring the log.")
    if is_long(logs):
        result = of_the_worker(visit, plan, logs)
        if result is None:
            raise BadInput(FINDING, "logs that were not judged as they are now", "logs that the worker has judged",
                           "Start the job 'soak verdict' first.")  # fmt: skip
        told, failures = result["soak"], int(result["failures"])
    else:
        failures = body.get("failures", 0)
        told = told_soak(judged(plan, logs, failures).found)
    return tell_finding(record_soak_finding(call.actor, plan, logs, told, failures=failures,
                                            words=body.get("words", ""), supersedes=stands))  # fmt: skip


def _still(stands: SoakPlan | SoakFinding | None, named: int | None, doing: str) -> None:
    if (stands.pk if stands is not None else None) != named:
        raise BadInput(doing, "another one than the one that was looked at", "the one that stands",
                       "Look at what stands now.")  # fmt: skip


ONE = "/objects/{object}/visits/{visit}/soak"
OPERATIONS: tuple[Operation, ...] = (
    looks("get-soak", ONE, "The soak of a visit: plan, logs, what was recorded.", _look, SOAK),
    makes("plan-soak", f"{ONE}/plans", RECORD, "Plans a soak, or changes its plan by a new one.", _plan, PLAN,
          NEW_PLAN),
    makes("record-soak", f"{ONE}/findings", RECORD, "Records what the logs of a soak tell, held against its plan.",
          _record, FOUND, NEW_FINDING),
)  # fmt: skip
