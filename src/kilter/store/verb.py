"""What every verb of the record has in common: the right role, one transaction, its turn, and a plain message."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from django.db import OperationalError, connection, transaction

from kilter.measure.errors import BadInput
from kilter.services.permissions import demand
from kilter.store.journal import take_turn
from kilter.store.models import Person
from kilter.store.trouble import explained, is_locked, plainly

P = ParamSpec("P")
R = TypeVar("R")
TRIES, PAUSE_S = 4, 0.2
FORBIDDEN = frozenset(chr(code) for code in (*range(9), 11, 12, *range(14, 32), 127))


class NotOffered(BadInput):
    """A word that is none of a list of the record's own words; the part 'allowed' holds the list."""

    @property
    def offered(self) -> tuple[str, ...]:
        """The words of the list, which a page may say in its reader's language."""
        return tuple(self.allowed.split(", "))


def verb(name: str) -> Callable[[Callable[Concatenate[Person, P], R]], Callable[Concatenate[Person, P], R]]:
    """
    Makes a function a verb: its first argument is the person who acts.

    Args:
        name: A key of `kilter.services.permissions.VERBS`; also what messages and the journal call it.
    """

    def decorate(work: Callable[Concatenate[Person, P], R]) -> Callable[Concatenate[Person, P], R]:
        @wraps(work)
        def done(actor: Person, *args: P.args, **named: P.kwargs) -> R:
            def once() -> R:
                with transaction.atomic():
                    take_turn()
                    demand(roles_now(actor), name)
                    return work(actor, *args, **named)

            return in_one_piece(f"Cannot {name}", once)

        return cast("Callable[Concatenate[Person, P], R]", done)

    return decorate


def in_one_piece(doing: str, work: Callable[[], R]) -> R:
    """
    Does a whole transaction; where another writer got in the way it is done anew.

    Raises:
        BadInput: The database or the disk fails.
    """
    with plainly(doing):
        if connection.in_atomic_block:
            return work()
        for attempt in range(1, TRIES + 1):
            try:
                return work()
            except OperationalError as error:
                if attempt == TRIES or not is_locked(error):
                    raise explained(doing, error) from error
                time.sleep(PAUSE_S * attempt)
    raise AssertionError("the loop above returns or raises")


def roles_now(actor: Person) -> tuple[str, ...]:
    """The roles as they are in the database this moment, not when the person came in."""
    rows = Person.objects.filter(pk=actor.pk, is_active=True).order_by("groups__pk")
    return tuple(name for name in rows.values_list("groups__name", flat=True) if name)


def said(words: Any, what: str, most: int, doing: str, *, empty: bool = True) -> str:
    """
    Text that a person typed, without blanks around it.

    Args:
        words: The text.
        what: What it is, for the message.
        most: Characters allowed.
        doing: What was being done, for the message.
        empty: Whether it may be left out.

    Raises:
        BadInput: It is missing, too long, or holds characters that no keyboard writes.
    """
    text = str(words or "").replace("\r\n", "\n").strip()
    if not text and not empty:
        raise BadInput(doing, f"nothing under '{what}'", f"1 to {most} characters", "Fill it in.")
    if len(text) > most:
        raise BadInput(doing, f"{len(text)} characters under '{what}'", f"at most {most}", "Say it more briefly.")
    odd = next((sign for sign in text if sign in FORBIDDEN or "\ud800" <= sign <= "\udfff"), None)
    if odd is not None:
        raise BadInput(doing, f"the character U+{ord(odd):04X} under '{what}'",
                       "letters, digits, signs and line breaks", "Type it anew instead of pasting it.")  # fmt: skip
    return text


def one_of(word: str, what: str, allowed: tuple[str, ...], doing: str) -> str:
    """
    A word of a fixed list.

    Raises:
        NotOffered: It is not in the list.
    """
    if word not in allowed:
        raise NotOffered(doing, f"'{word}' as {what}", ", ".join(one or "nothing" for one in allowed),
                         "Choose one of these.")  # fmt: skip
    return word
