"""The door: who may come in, with a wait after wrong tries."""

from __future__ import annotations

from datetime import timedelta
from functools import cache

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction

from kilter.measure.errors import BadInput
from kilter.store.journal import now, take_turn
from kilter.store.models import LoginAttempt, Person
from kilter.store.verb import in_one_piece

DOING = "Cannot let you in"
FREE_TRIES, REMEMBERED, MOST_WAIT_S = 5, timedelta(minutes=30), 900
KEPT = timedelta(days=30)


def come_in(login: str, password: str, address: str) -> Person:
    """
    The person with this login and password.

    After FREE_TRIES wrong tries within half an hour, for a login or from an address, the next one has to wait: two
    seconds, then twice as long each time, at most a quarter of an hour.

    Args:
        login: As typed.
        password: As typed.
        address: Where the person is, for the wait.

    Raises:
        BadInput: They do not fit, or one has to wait. It never tells whether the login exists.
    """
    typed = "".join(sign for sign in login.strip() if sign.isprintable())[:60].casefold()
    attempt = _knock(typed, address, DOING)
    person = Person.objects.filter(login__iexact=typed).first()
    fits = check_password(password, person.password if person else _nobody())
    if not fits or person is None or not person.is_active or not person.roles():
        raise BadInput(DOING, "a login and password that do not fit", "those of a person with a role",
                       "Type them again, or ask an administrator.")  # fmt: skip
    _let_in(attempt, DOING)
    return person


def show_own_password(person: Person, password: str, address: str, doing: str) -> None:
    """
    Somebody who is in shows again that it is they, with the same wait after wrong tries as at the door.

    Args:
        person: Who is in.
        password: As typed.
        address: Where the person is, for the wait.
        doing: What it is shown for, for the message.

    Raises:
        BadInput: The password does not fit, or one has to wait.
    """
    attempt = _knock(person.login.casefold(), address, doing)
    if not check_password(password, person.password):
        raise BadInput(doing, "an old password that does not fit", "your password as it is now", "Type it again.")
    _let_in(attempt, doing)


def _knock(typed: str, address: str, doing: str) -> LoginAttempt:
    """Counts as a wrong try until the password fits, so that many tries at once wait like those one by one."""

    def once() -> LoginAttempt:
        with transaction.atomic():
            take_turn()
            _wait(typed, address, doing)
            LoginAttempt.objects.filter(at__lt=now() - KEPT).delete()
            return LoginAttempt.objects.create(login=typed, address=address[:64], at=now(), succeeded=False)

    return in_one_piece(doing, once)


def _let_in(attempt: LoginAttempt, doing: str) -> None:
    in_one_piece(doing, lambda: LoginAttempt.objects.filter(pk=attempt.pk).update(succeeded=True))


@cache
def _nobody() -> str:
    """What a password is held against where nobody has that login, so that the answer takes as long."""
    return make_password("nobody has this password")


def _wait(login: str, address: str, doing: str) -> None:
    for column, value, free in (("login", login, FREE_TRIES), ("address", address[:64], 4 * FREE_TRIES)):
        tries = LoginAttempt.objects.filter(**{column: value}, at__gt=now() - REMEMBERED).order_by("-at")
        wrong, last = 0, None
        for one in tries[:200]:
            if one.succeeded:
                break
            wrong, last = wrong + 1, last or one.at
        if last is None or wrong < free:
            continue
        wait_s = min(MOST_WAIT_S, 2 ** (1 + wrong - free))
        left = wait_s - (now() - last).total_seconds()
        if left > 0:
            raise BadInput(doing, f"{wrong} wrong tries", f"the next one in {left:.0f} s", "Wait, then try again.")
