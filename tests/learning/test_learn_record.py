"""
Learning from the record's closed visits: what teaches, once, withdrawn with its outcome, never from a damaged chain.

Odds after the visits are the conjugate ones: the beta distribution of scipy with the parameters worked out by hand
from how many parts were looked at and failed. The chain's digests are made anew here with hashlib and json alone.
"""

from __future__ import annotations

import hashlib
import itertools
import json
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from kilter.diagnose.learned_odds import learned, number
from kilter.measure.errors import BadInput, NotAllowed
from kilter.parts.kinds import part_kind
from kilter.services.experience import VISIT, WITHDRAWN
from kilter.services.learn_record import due, years_at

pytest.importorskip("django")
scipy_stats = pytest.importorskip("scipy.stats")

if TYPE_CHECKING:
    from learned_scene import Lessons


def learn(lessons: Lessons, **more: Any) -> dict[str, Any]:
    from kilter.wiring.record_lessons import learn_from_record

    return learn_from_record(lessons.repairer, **more)


def read() -> Any:
    from kilter.wiring.record_experience import RecordExperience

    return RecordExperience().read()


def test_odds_are_those_of_the_beta_distribution(lessons: Lessons) -> None:
    """Four capacitors, three of them leaking, in boards of about 1983; age 43 in the band from 40 to 50 years."""
    for _ in range(3):
        lessons.mended()
    good = lessons.a_visit(read=(("R1", "10.1 kohm"),))
    lessons.end(good, [])
    close(lessons, good)
    assert learn(lessons) == {"learned": 4, "withdrawn": 0, "left": {}, "without_outcome": 0}
    about = learned("electrolytic", read().weighted())
    a, p = number("prior_failures"), part_kind("electrolytic").odds
    hits, misses = a + 3, a / p + 4 - (a + 3)
    assert about.odds == pytest.approx(float(scipy_stats.beta(hits, misses).mean()))
    assert (about.low, about.high) == pytest.approx(scipy_stats.beta(hits, misses).interval(number("interval")))
    assert learned("resistor", read().weighted()).failures == 0
    assert {row["band"] for one in read().standing() for row in one.body["counts"]} == {"40-50"}


def close(lessons: Lessons, visit: Any, kind: str = "closed") -> None:
    from kilter.store.verbs.visits import set_visit

    set_visit(lessons.repairer, visit, kind)


def test_a_second_time_changes_nothing(lessons: Lessons) -> None:
    lessons.mended()
    learn(lessons)
    before = read()
    assert learn(lessons)["learned"] == 0
    assert read() == before


def test_a_superseded_outcome_withdraws_what_it_taught(lessons: Lessons) -> None:
    visit = lessons.mended()
    learn(lessons)
    first = visit.outcomes.get()
    lessons.end(visit, ["R2:open"], supersedes=first)
    assert learn(lessons)["withdrawn"] == 1
    assert [one.kind for one in read().entries] == [VISIT, WITHDRAWN, VISIT]
    (stands,) = (one for one in read().standing() if one.kind == VISIT)
    failed = {row["kind"]: row["failures"] for row in stands.body["counts"]}
    assert failed == {"electrolytic": {}, "resistor": {"open": 1}}


def test_taken_back_reopened_and_closed_again(lessons: Lessons) -> None:
    from kilter.store.verbs.outcomes import take_outcome_back

    visit = lessons.mended()
    learn(lessons)
    close(lessons, visit, "reopened")
    assert learn(lessons)["withdrawn"] == 1
    assert not [one for one in read().standing() if one.kind == VISIT]
    close(lessons, visit)
    assert learn(lessons)["learned"] == 1  # as it was: it counts again
    take_outcome_back(lessons.repairer, visit.outcomes.get(), "it fell silent again")
    assert learn(lessons) == {"learned": 0, "withdrawn": 1, "left": {}, "without_outcome": 1}
    assert list(read().own()) == []


def test_what_a_person_withdrew_stays_withdrawn(lessons: Lessons) -> None:
    from kilter.wiring.record_experience import RecordExperience

    visit = lessons.mended()
    learn(lessons)
    keeper = RecordExperience(lessons.repairer)
    keeper.add(keeper.read(), WITHDRAWN, keeper.read().withdrawal(1, "the wrong object was on the bench"))
    assert learn(lessons)["learned"] == 0
    lessons.end(visit, ["C1:short"], supersedes=visit.outcomes.get())
    assert learn(lessons)["learned"] == 1  # another outcome is another lesson


@pytest.mark.parametrize(
    ("works", "more"),
    [("does not work", {}), ("not tried", {}), ("works again", {"not_working": False}),
     ("works again", {"known_good": True})],
)  # fmt: skip
def test_what_teaches_no_odds(lessons: Lessons, works: str, more: dict[str, Any]) -> None:
    """Odds are those of an object that arrives not working; of one that does not work again nobody knows the rest."""
    visit = lessons.a_visit(**more)
    lessons.end(visit, ["C1:leak"], works)
    close(lessons, visit)
    learn(lessons)
    (body,) = (one.body for one in read().standing())
    assert (body["counts"], body["calls"]) == ([], [])
    assert set(body["minutes"]) <= {"resistance"}  # times are counted all the same


def test_minutes_are_those_between_the_entries(lessons: Lessons, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three readings three minutes apart in one state: mean of five usual ones and two of three minutes, by hand."""
    from kilter.measure.quantities import quantity
    from kilter.services.learn_times import paces

    clock = itertools.count()
    start = datetime.now(UTC)
    monkeypatch.setattr("kilter.store.verbs.visits.now", lambda: start + timedelta(minutes=3 * next(clock)))
    visit = lessons.a_visit()
    lessons.end(visit, [])
    close(lessons, visit)
    learn(lessons)
    (found,) = paces(read().times())
    usual = quantity("resistance").minutes
    assert (found.what, found.times) == ("resistance", 2)
    assert found.minutes == pytest.approx((5 * usual + 2 * 3.0) / 7)


def test_nothing_is_learned_from_open_visits_or_unsaid_ones(lessons: Lessons) -> None:
    lessons.end(lessons.a_visit(), ["C1:leak"])
    close(lessons, lessons.a_visit())
    assert learn(lessons) == {"learned": 0, "withdrawn": 0, "left": {}, "without_outcome": 1}


def test_called_before_anything_was_done(lessons: Lessons) -> None:
    """What was read or written after the first deed has no part in what was called."""
    from kilter.store.verbs.statements import state

    for late in (False, True):
        visit = lessons.a_visit()
        lessons.add(visit, point="C1", quantity="done", value="renewed")
        if late:
            for _ in range(3):
                lessons.add(visit, point="a", quantity="resistance", value="5 kohm", state="off")
            state(lessons.repairer, visit.object, "diagnosis", "It was C1.", reliability=0.95, part="C1", mode="leak")
        lessons.end(visit, ["C1:leak"])
        close(lessons, visit)
    learn(lessons)
    one, other = (entry.body["calls"] for entry in read().standing())
    assert len(one) == len(other)
    first, second = ([p for p, so in rows if so] for rows in (one, other))
    assert second == pytest.approx(first, rel=0.1)  # the first visit's lesson moves the second's prior


def test_a_part_that_was_replaced_before_has_no_age(lessons: Lessons) -> None:
    first = lessons.mended()
    lessons.mended(first.object)
    learn(lessons)
    bands = [{row["kind"]: row["band"] for row in one.body["counts"]}["electrolytic"] for one in read().standing()]
    assert bands == ["40-50", ""]


def test_stopped_in_the_middle_what_was_learned_stays(lessons: Lessons) -> None:
    class Enough(Exception):
        pass

    for _ in range(3):
        lessons.mended()
    heard = []

    def stop_at_third(share: float, _: str) -> None:
        heard.append(share)
        if len(heard) == 3:
            raise Enough

    with pytest.raises(Enough):
        learn(lessons, heard=stop_at_third)
    assert len(read().entries) == 2
    assert learn(lessons)["learned"] == 1


def test_who_may(lessons: Lessons) -> None:
    from kilter.wiring.record_lessons import learn_from_record

    lessons.mended()
    for role in ("reader", "approver", "registrar", "administrator"):
        with pytest.raises(NotAllowed):
            learn_from_record(lessons.scene.who(role))
    assert not read().entries


def test_the_chain_by_hand(lessons: Lessons) -> None:
    from kilter.store.models import LearnedEntry

    for _ in range(2):
        lessons.mended()
    learn(lessons)
    before = hashlib.sha256(b'{"kilter_experience": 1}').hexdigest()
    for row in LearnedEntry.objects.order_by("number"):
        time = row.at.isoformat(timespec="microseconds")
        line = {"number": row.number, "time": time, "who": row.who.key, "kind": row.kind, "before": before,
                "body": json.loads(row.body)}  # fmt: skip
        before = hashlib.sha256(json.dumps(line, sort_keys=True, ensure_ascii=False).encode()).hexdigest()
        assert row.digest == before


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE store_learnedentry SET body = replace(body, 'leak', 'short') WHERE number = 1",
        "UPDATE store_learnedentry SET kind = 'counts' WHERE number = 1",
        "UPDATE store_learnedentry SET body = 'nothing' WHERE number = 2",
        "DELETE FROM store_learnedentry WHERE number = 1",
    ],
)
def test_a_damaged_chain_is_never_used(lessons: Lessons, damage: str) -> None:
    from record_scene import by_force

    from kilter.wiring.record_bench import learned_at, session_of

    for _ in range(2):
        lessons.mended()
    learn(lessons)
    whole, other = lessons.a_visit(), lessons.a_visit()
    assert learned_at(whole).visits == 2
    by_force("store_learnedentry", damage)
    with pytest.raises(BadInput, match="Cannot use what was learned"):
        read()
    with pytest.raises(BadInput, match="Cannot use what was learned"):
        learn(lessons)
    told = learned_at(other)
    assert told.damaged
    assert (told.odds, told.visits, told.used) == ({}, 0, False)
    with session_of(other, lessons.repairer) as session:
        assert session.diagnoser.odds == {}


def test_the_bench_uses_what_was_learned_but_not_from_itself(lessons: Lessons) -> None:
    from kilter.diagnose.learned_odds import learned_odds
    from kilter.wiring.record_bench import board_of, learned_at, session_of

    visit = lessons.mended()
    learn(lessons)
    own, other = learned_at(visit), lessons.a_visit()
    assert (own.visits, own.odds) == (0, {})
    with session_of(other, lessons.repairer) as session:
        expected = learned_odds(board_of(lessons.edition), read().weighted(), 43)
        assert session.diagnoser.odds == expected
    assert learned_at(other).visits == 1


@pytest.mark.parametrize(
    ("made", "age"),
    [("about 1983", 43), ("1978-1980", 47), ("1955 or 1990", None), ("in the eighties", None), ("", None),
     ("serial 19833", None), ("2050", None)],
)  # fmt: skip
def test_ages(made: str, age: float | None) -> None:
    assert years_at(made, 2026) == age


def test_nothing_is_due_of_nothing() -> None:
    from kilter.services.experience import Experience

    assert due(Experience(), {}).learn == ()
    assert due(Experience(), {"v": "b"}).learn == ("v",)
