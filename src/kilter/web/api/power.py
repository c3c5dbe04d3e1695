"""The checks before power, and the gate that they open."""

from __future__ import annotations

from typing import Any

from kilter.store.models import GateCheck
from kilter.store.verbs.visits import GATE, MOST_WORDS, RECORD, log_of, record_check
from kilter.web.api.entries import AFTER, ENTRY, tell_entry
from kilter.web.api.fields import BY, ID, NUMBER, TOLD, by
from kilter.web.api.found import visit_of
from kilter.web.api.operation import Call, Operation, looks, makes
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Many, Maybe, Text, Truth, Words
from kilter.wiring.power_gate import MEANS, checks_wanted, let_power_on, standing_checks

CHECKS = Words(checks_wanted())
CHECK = Record("Check", {"id": ID, "name": CHECKS, "outcome": Words(GateCheck.OUTCOMES), "words": TOLD, **BY})
GATE_NOW = Record("Gate", {
    "allows_power": Field(Truth(), "checks passed, or waived with a reason, since anything was last done to the "
                          "object; whether it may be switched on is for the rules of the house"),
    "entry": Field(Maybe(NUMBER), "the entry that allows it"),
    "wanted": Field(Many(CHECKS), "the checks, in order"),
    "checks": Field(Many(CHECK), "the latest record of each that was recorded"),
})  # fmt: skip
NEW_CHECK = Record("NewCheck", {"name": CHECKS, "outcome": Words(GateCheck.OUTCOMES), "words": may(Text(4000))})
NEW_GATE = Record("NewGate", {
    "means": Field(Words(tuple(MEANS)), "'passed' needs every check passed, 'waived' a reason"),
    "after": AFTER, "why": may(Text(MOST_WORDS)),
})  # fmt: skip


def tell_check(one: GateCheck) -> dict[str, Any]:
    """The record of one check."""
    return {"id": one.pk, "name": one.name, "outcome": one.outcome, "words": one.words, **by(one)}


def _look(call: Call) -> Any:
    visit, wanted = visit_of(call), checks_wanted()
    gate, recorded = log_of(visit).gate, standing_checks(visit)
    return {"allows_power": gate is not None, "entry": gate.number if gate else None, "wanted": list(wanted),
            "checks": [tell_check(recorded[name]) for name in wanted if name in recorded]}  # fmt: skip


def _check(call: Call) -> Any:
    visit, body = visit_of(call), call.body
    earlier = standing_checks(visit).get(body["name"])
    return tell_check(record_check(call.actor, visit, body["name"], body["outcome"], body.get("words", ""), earlier))


def _open(call: Call) -> Any:
    body = call.body
    row = let_power_on(call.actor, visit_of(call), body["means"], body.get("why", "").strip(), after=body["after"])
    return tell_entry(row, frozenset())


ONE = "/objects/{object}/visits/{visit}"
OPERATIONS: tuple[Operation, ...] = (
    looks("get-gate", f"{ONE}/power", "The checks before power and whether the gate stands open.", _look, GATE_NOW),
    makes("record-check", f"{ONE}/power/checks", RECORD, "Records one check; it takes the place of an earlier record.",
          _check, CHECK, NEW_CHECK),
    makes("open-gate", f"{ONE}/power/gate", GATE, "Passes the checks, or goes on without them with a reason, under the "
          "name of the key's person.", _open, ENTRY, NEW_GATE),
)  # fmt: skip
