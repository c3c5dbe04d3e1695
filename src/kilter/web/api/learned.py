"""How visits ended, what was learned from them, and whose files are taken."""

from __future__ import annotations

from typing import Any

from kilter.diagnose.learned_odds_counts import bands
from kilter.measure.errors import BadInput
from kilter.services.experience import KINDS, WITHDRAWN, Experience
from kilter.services.report_calibration import calibration_of
from kilter.store.models import KnownSharer, VisitOutcome
from kilter.store.verbs.jobs import ask_for
from kilter.store.verbs.learned import LEARN, SHARE, WITHDRAW, know_sharer
from kilter.store.verbs.outcomes import DOING, END, take_outcome_back
from kilter.web.api.fields import BY, ID, TOLD, WHEN, WHO, WHY, by
from kilter.web.api.found import visit_of
from kilter.web.api.jobs import JOB, tell_job
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.refusals import not_there
from kilter.web.api.shapes import Anything, Many, Maybe, Number, Text, Truth, Whole, Words, filled
from kilter.web.api.statements import REASON
from kilter.web.learned_view import odds_view, times_view
from kilter.wiring.record_experience import RecordExperience
from kilter.wiring.record_lessons import stock_of
from kilter.wiring.record_outcome import confirm_outcome
from kilter.wiring.worker import LEARNING

FOUND, STATE = Words(VisitOutcome.FOUND), Words(VisitOutcome.STATES)
OUTCOME = Record("Outcome", {
    "id": ID, "found": FOUND, "works": STATE, "said_by": TOLD, "words": TOLD,
    "parts": Field(Many(Record("FaultyPart", {"part": TOLD, "mode": TOLD})), "what was faulty, and how"),
    "supersedes": Maybe(Whole(1)), "withdrawn": Truth(), "stands": Truth(), **BY,
})  # fmt: skip
NEW = Record("NewOutcome", {
    "found": FOUND, "works": Field(STATE, "whether the object does its work again; there is no usual answer"),
    "parts": may(Many(filled(120), 100), "faulty parts as PART or PART:MODE, with 'parts were faulty' alone"),
    "said_by": may(Text(200), "who tried it, where that is somebody else: a role, not a name"),
    "words": may(Text(4000), "how it was found out"),
    "supersedes": may(Maybe(Whole(1)), "id of the outcome that stands now, where there is one"),
})  # fmt: skip
BACK = Record("OutcomeBack", {
    "outcome": Field(Whole(1), "id of the outcome that stands"), "why": Field(filled(2000), "the reason"),
})  # fmt: skip
SHARE_OF = Number(0, 1)
LEARNED = Record("Learned", {
    "due": Field(Whole(), "closed visits to learn from"), "without_basis": Field(Whole(), "lessons to withdraw"),
    "unsaid": Field(Whole(), "closed visits of which nobody said how they ended"),
    "odds": Many(Record("LearnedOdds", {
        "kind": TOLD, "handbook": SHARE_OF, "odds": SHARE_OF, "low": SHARE_OF, "high": SHARE_OF, "parts": Number(0),
        "failures": Number(0), "changed_by": Field(Anything(), "factor by source, '' for this collection"),
    })),
    "calibration": Field(Anything(), "the keys of 'kilter learn calibration --json'"),
    "times": Field(Anything(), "what work takes here"),
})  # fmt: skip
LESSON = Record("Lesson", {
    "number": Whole(1), "kind": Words(KINDS), "stands": Truth(), "body": Anything(), "at": WHEN, "who": WHO,
})  # fmt: skip
SHARER = Record("Sharer", {"id": ID, "name": TOLD, "key": TOLD, "trust": SHARE_OF, **BY})
NEW_SHARER = Record("NewSharer", {
    "name": filled(80), "key": Text(64, r"[0-9a-f]{64}", "64 hexadecimal digits"),
    "trust": Field(SHARE_OF, "what one of their failures weighs against one of ours"), "why": may(WHY),
})  # fmt: skip


def tell_outcome(one: VisitOutcome) -> dict[str, Any]:
    """An outcome."""
    names = ("found", "works", "said_by", "words", "withdrawn")
    superseded = VisitOutcome.objects.filter(supersedes=one).exists()
    return {"id": one.pk, **{name: getattr(one, name) for name in names}, "supersedes": one.supersedes_id,
            "parts": [{"part": part, "mode": mode} for part, mode in one.parts.items()],
            "stands": not (one.withdrawn or superseded), **by(one)}  # fmt: skip


def _outcome(call: Call, pk: int | None) -> VisitOutcome | None:
    if pk is None:
        return None
    found: VisitOutcome | None = visit_of(call).outcomes.filter(pk=pk).first()
    if found is None:
        raise BadInput(DOING, f"no outcome {pk} of this visit", "the id of one", "Look it up first.")
    return found


def _outcomes(call: Call) -> Any:
    return told(call, visit_of(call).outcomes.select_related("who").order_by("-pk"), tell_outcome)


def _note(call: Call) -> Any:
    body = call.body
    row = confirm_outcome(
        call.actor, visit_of(call), body["found"], body.get("parts", ()), body["works"],
        said_by=body.get("said_by", ""), why=body.get("words", ""), supersedes=_outcome(call, body.get("supersedes")),
    )  # fmt: skip
    return tell_outcome(row)


def _take_back(call: Call) -> Any:
    found = _outcome(call, call.body["outcome"])
    assert found is not None
    return tell_outcome(take_outcome_back(call.actor, found, call.body["why"]))


def _learned(call: Call) -> Any:
    experience = RecordExperience().read()
    stock = stock_of(experience)
    odds = [
        {"kind": row["key"], "handbook": row["handbook"], "odds": row["odds"], "low": row["low"], "high": row["high"],
         "parts": row["parts"], "failures": row["failed"], "changed_by": dict(row["who"])}
        for row in odds_view(experience, call.query.get("age", ""))
    ]  # fmt: skip
    return {
        "due": len(stock.learn), "without_basis": len(stock.withdraw), "unsaid": stock.silent, "odds": odds,
        "calibration": calibration_of(experience.calls()).plain(), "times": times_view(experience.times()),
    }  # fmt: skip


def _tell_lesson(experience: Experience, number: int) -> dict[str, Any]:
    one = experience.entries[number - 1]
    return {"number": one.number, "kind": one.kind, "stands": one in experience.standing(), "body": dict(one.body),
            "at": one.time.replace("+00:00", "Z"), "who": one.who}  # fmt: skip


def _lessons(call: Call) -> Any:
    experience = RecordExperience().read()
    numbers = _Numbers(range(len(experience.entries), 0, -1))
    return told(call, numbers, lambda number: _tell_lesson(experience, number))


class _Numbers(tuple[int, ...]):
    """Numbers that are told piece by piece like rows."""

    def count(self) -> int:  # type: ignore[override]
        """How many."""
        return len(self)


def _withdraw(call: Call) -> Any:
    keeper, number = RecordExperience(call.actor), int(call.path["lesson"])
    experience = keeper.read()
    if number > len(experience.entries):
        raise not_there("Cannot find it", f"no lesson {number}", "lessons of the record")
    added = keeper.add(experience, WITHDRAWN, experience.withdrawal(number, call.body["why"]))
    return _tell_lesson(keeper.read(), added.number)


def _learn(call: Call) -> Any:
    return tell_job(ask_for(call.actor, LEARNING, {"who": call.actor.pk}))


def _tell_sharer(one: KnownSharer) -> dict[str, Any]:
    return {"id": one.pk, "name": one.name, "key": one.key, "trust": one.trust, **by(one)}


def _know(call: Call) -> Any:
    body = call.body
    return _tell_sharer(know_sharer(call.actor, body["name"], body["key"], body["trust"], body.get("why", "")))


VISIT = "/objects/{object}/visits/{visit}"
OPERATIONS: tuple[Operation, ...] = (
    looks("list-outcomes", f"{VISIT}/outcomes", "How a visit ended, everything ever said, the latest first.", _outcomes,
          rows_of(OUTCOME), query=PAGING),
    makes("note-outcome", f"{VISIT}/outcomes", END, "Confirms how a visit ended: what was faulty, and whether the "
          "object works again.", _note, OUTCOME, NEW),
    makes("take-outcome-back", f"{VISIT}/outcomes/take-back", END, "Takes an outcome back, with a reason.", _take_back,
          OUTCOME, BACK),
    looks("get-learned", "/learned", "What the collection has taught: odds, calls that came true, minutes.", _learned,
          LEARNED, query={"age": may(Words(("", *bands())), "age of the object in years")}),
    looks("list-lessons", "/learned/lessons", "Every lesson, the latest first.", _lessons, rows_of(LESSON),
          query=PAGING),
    makes("learn", "/learned/jobs", LEARN, "Puts learning from every closed visit that is due in the queue.", _learn,
          JOB, None),
    makes("withdraw-lesson", "/learned/lessons/{lesson}/withdraw", WITHDRAW, "Lets a lesson count no longer.",
          _withdraw, LESSON, REASON),
    looks("list-sharers", "/sharing/keys", "Other collections whose files are taken.", lambda call: told(
        call, KnownSharer.objects.standing().select_related("who").order_by("name"), _tell_sharer), rows_of(SHARER),
        query=PAGING),
    makes("know-sharer", "/sharing/keys", SHARE, "Puts another collection's key on the list.", _know, SHARER,
          NEW_SHARER),
)  # fmt: skip
