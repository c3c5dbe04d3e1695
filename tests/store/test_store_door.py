"""
The door: wrong tries make the next one wait, whoever knocks; what it says never tells whether somebody has that login.

The wait grows, as NIST SP 800-63B, 5.2.2 (rate limiting) names among its ways; from memory. The numbers are
the project's own.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from record_scene import NOBODY, PASSWORD, STRANGER, Scene

from kilter.measure.errors import BadInput
from kilter.store.models import LoginAttempt
from kilter.store.verbs import door
from kilter.store.verbs.door import come_in

WRONG = "eleven teal kettle"


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """What the door takes for the time: the last of the list."""
    times = [datetime(2026, 3, 1, 9, 0, tzinfo=UTC)]
    monkeypatch.setattr(door, "now", lambda: times[-1])
    return times


def wait(times: list[datetime], seconds: float) -> None:
    times.append(times[-1] + timedelta(seconds=seconds))


def knock(login: str = "recorder", password: str = WRONG, address: str = "192.0.2.7") -> str:
    """What the door says; '' where it opens."""
    try:
        come_in(login, password, address)
    except BadInput as error:
        return error.found
    return ""


def test_in(record: Scene, clock: list[datetime]) -> None:  # noqa: ARG001
    one = record.who("recorder")
    assert come_in("recorder", PASSWORD, "192.0.2.7") == one
    assert come_in(" RECORDER ", PASSWORD, "192.0.2.7") == one
    assert list(LoginAttempt.objects.values_list("succeeded", flat=True)) == [True, True]


def test_it_tells_nobody_why(record: Scene, clock: list[datetime]) -> None:
    for role in ("recorder", NOBODY, STRANGER):
        record.who(role)
    wait(clock, 1)
    tries = [("recorder", WRONG), ("no-such-login", WRONG), (NOBODY, PASSWORD), (STRANGER, PASSWORD), ("", ""),
             ("recorder", ""), ("recorder\0", WRONG)]  # fmt: skip
    assert {knock(*one) for one in tries} == {"a login and password that do not fit"}


def test_the_wait_doubles(record: Scene, clock: list[datetime]) -> None:
    record.who("recorder")
    for _ in range(5):
        assert knock() == "a login and password that do not fit"
        wait(clock, 0.1)
    for seconds in (2, 4, 8, 16, 32, 64, 128, 256, 512):
        assert "wrong tries" in knock(password=PASSWORD)
        wait(clock, seconds - 0.5)
        assert "wrong tries" in knock(password=PASSWORD)  # the right one waits too
        wait(clock, 0.5)
        assert knock() == "a login and password that do not fit"
    assert LoginAttempt.objects.count() == 14  # tries within the wait are not counted, so nobody is kept out by them


def test_never_longer_than_a_quarter_of_an_hour(record: Scene, clock: list[datetime]) -> None:
    record.who("recorder")
    for back in range(60):
        at = clock[-1] - timedelta(seconds=back)
        LoginAttempt.objects.create(login="recorder", address="x", at=at, succeeded=False)
    wait(clock, 899)
    assert "wrong tries" in knock(password=PASSWORD)
    wait(clock, 1)
    assert knock(password=PASSWORD) == ""
    assert knock() == "a login and password that do not fit"  # who came in begins anew


def test_one_address_that_tries_many_logins(record: Scene, clock: list[datetime]) -> None:
    record.who("recorder")
    for count in range(20):
        assert knock(f"somebody-{count}") == "a login and password that do not fit"
    assert "wrong tries" in knock("recorder", PASSWORD)
    assert knock("recorder", PASSWORD, address="192.0.2.8") == ""
    wait(clock, 1801)
    assert knock("recorder", PASSWORD) == ""


def test_old_tries_are_forgotten(record: Scene, clock: list[datetime]) -> None:
    record.who("recorder")
    knock()
    wait(clock, 31 * 24 * 3600)
    knock()
    assert LoginAttempt.objects.count() == 1


def test_a_try_counts_before_the_password_is_looked_at(
    record: Scene, clock: list[datetime], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Many at once must not all slip through before the first is counted."""
    record.who("recorder")
    wait(clock, 1)
    seen: list[int] = []
    monkeypatch.setattr(door, "check_password", lambda *_: bool(seen.append(LoginAttempt.objects.count())))
    knock()
    knock()
    assert seen == [1, 2]
