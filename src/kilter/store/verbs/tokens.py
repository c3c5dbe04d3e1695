"""Keys for programs that act for a person."""

from __future__ import annotations

import hashlib
import secrets

from kilter.measure.errors import BadInput
from kilter.store.journal import now, write
from kilter.store.models import AccessToken, Person
from kilter.store.verb import said, verb

MOST = 20
LOOK = "look at the collection"
PREFIX = "klt_"


@verb(LOOK)
def issue_token(actor: Person, name: str) -> str:
    """
    A key that does what the person may do. It is told once and kept only as a digest.

    Args:
        actor: Whose key it is.
        name: What it is for.

    Raises:
        BadInput: No name, or too many keys.
    """
    doing = "Cannot make a key"
    words = said(name, "what it is for", 80, doing, empty=False)
    if actor.tokens.filter(revoked__isnull=True).count() >= MOST:
        raise BadInput(doing, f"{MOST} keys that are in use", f"at most {MOST}", "Take one back that nobody needs.")
    token = PREFIX + secrets.token_urlsafe(32)
    row = AccessToken.objects.create(person=actor, name=words, digest=digest_of_token(token), created=now())
    write(actor.key, "make a key", f"person {actor.key}", after={"key": row.pk})  # its name may be personal
    return token


@verb(LOOK)
def revoke_token(actor: Person, token_pk: int) -> None:
    """
    Takes one's own key back.

    Raises:
        BadInput: The person has no such key.
    """
    found = actor.tokens.filter(pk=token_pk, revoked__isnull=True).first()
    if found is None:
        raise BadInput("Cannot take the key back", f"no key {token_pk} of yours", "a key of your own that is in use",
                       "Look at your keys.")  # fmt: skip
    AccessToken.objects.filter(pk=found.pk).update(revoked=now())
    write(actor.key, "take a key back", f"person {actor.key}", after={"key": found.pk})


def person_of_token(token: str) -> Person | None:
    """Who a key stands for; None where it is unknown, taken back, or its person has no door."""
    found = (
        AccessToken.objects.select_related("person")
        .filter(digest=digest_of_token(token), revoked__isnull=True, person__is_active=True)
        .first()
    )
    if found is None:
        return None
    AccessToken.objects.filter(pk=found.pk).update(last_used=now())
    return found.person


def digest_of_token(token: str) -> str:
    """
    SHA-256 of a key, hexadecimal. Keys are 256 random bits, so no slow hash is needed.

    >>> digest_of_token("klt_x")[:8]
    'a870a278'
    """
    return hashlib.sha256(token.encode("utf-8")).hexdigest()
