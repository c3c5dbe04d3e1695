"""The bench as it stands: the diagnosis, the tests that may be done now, and what is held back."""

from __future__ import annotations

from typing import Any

from kilter.services.answer import answer, powered_tests_withheld, unanswered
from kilter.web.api.fields import TOLD
from kilter.web.api.found import visit_of
from kilter.web.api.operation import Call, Operation, looks
from kilter.web.api.records import Field, Record
from kilter.web.api.shapes import Many, Maybe, Number, Truth, Whole
from kilter.wiring.record_bench import session_of

SHARE = Number(0, 1.000001)
ASKED = {"point": TOLD, "quantity": TOLD, "state": TOLD}
TEST = Record("Test", {
    **ASKED, "bits": Field(Number(), "expected information"), "minutes": Number(), "grade": Whole(0, 6),
    "risk": Record("Risk", {"object": Number(), "person": Number()}),
})  # fmt: skip
READ = {**ASKED, "read": TOLD}
SUSPECT = Record("Suspect", {
    "part": TOLD, "probability": SHARE,
    "modes": Many(Record("Mode", {"mode": TOLD, "probability": SHARE})),
    "because": Many(Record("Reasoning", {
        **READ, "expected": TOLD, "healthy": TOLD, "log10_ratio": Maybe(Number()), "words": TOLD,
    })),
})  # fmt: skip
DIAGNOSIS = Record("Diagnosis", {
    "suspects": Many(SUSPECT), "ties": Many(Many(TOLD)), "not_in_model": SHARE, "next_tests": Many(TEST),
    "unexplained": Many(Record("Unexplained", {**READ, "gross": Maybe(Number()), "why": TOLD})),
    "visited_mass": Number(), "fallback_lanes": Whole(),
})  # fmt: skip
BENCH = Record("Bench", {
    "after": Field(Whole(), "number of the last entry that was weighed"),
    "diagnosis": Field(DIAGNOSIS, "the keys of 'kilter diagnose --json'"),
    "offers": Field(Many(TEST), "tests that may be done now, best first: not skipped, and powered ones only while the "
                    "gate stands open"),
    "advice": Field(TOLD, "what to do now, in one sentence"),
    "withheld": Field(Truth(), "tests with power on were left out until the checks before power pass"),
    "unanswered": Field(Many(TOLD), "what the diagnosis leaves open"),
})  # fmt: skip


def _look(call: Call) -> Any:
    with session_of(visit_of(call), call.actor) as session:
        diagnosis, log = session.diagnosis(), session.log
        plain, offered = answer(diagnosis), {id(one) for one in session.offers()}
        tests = zip(diagnosis.advice, plain["next_tests"], strict=True)
        return {
            "after": len(log.entries), "diagnosis": plain,
            "offers": [told for one, told in tests if id(one) in offered], "advice": diagnosis.decision.words,
            "withheld": powered_tests_withheld(diagnosis, power_checks=log.power_checks),
            "unanswered": list(unanswered(diagnosis)),
        }  # fmt: skip


OPERATIONS: tuple[Operation, ...] = (
    looks("look-at-bench", "/objects/{object}/visits/{visit}/bench", "What the readings of a visit say, and what to do "
          "next.", _look, BENCH),
)  # fmt: skip
