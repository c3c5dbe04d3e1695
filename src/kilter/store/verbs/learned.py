"""Add to what the collection learned, entry by entry, and keep the list of other collections' keys."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from kilter.measure.errors import BadInput
from kilter.services.experience import ACCEPTED, COUNTS, EXPORTED, KINDS, VISIT, WITHDRAWN, Entry, Experience
from kilter.services.experience_chain import HEAD_LINE, digest_of, line_of
from kilter.services.learn_record import AUTOMATIC
from kilter.store.journal import moment, now, write
from kilter.store.models import KnownSharer, LearnedEntry, Person
from kilter.store.verb import one_of, said, verb

LEARN, WITHDRAW, SHARE = "learn from visits", "withdraw what was learned", "share experience"
WHAT = "what was learned"
DOING = f"Cannot add to {WHAT}"


def read_learned() -> Experience:
    """
    Everything that was learned, in order, each entry checked against the chain.

    Raises:
        BadInput: An entry was altered, taken out or put in.
    """
    entries: list[Entry] = []
    last = digest_of(HEAD_LINE)
    for row in LearnedEntry.objects.select_related("who").order_by("number"):
        entry = _entry_of(row)
        digest = digest_of(line_of(entry, row.before)) if entry is not None else ""
        if entry is None or row.number != len(entries) + 1 or row.before != last or digest != row.digest:
            raise BadInput(f"Cannot use {WHAT}", f"entry {row.number}, which was altered, put in or follows a gap",
                           "entries that only were added to", "Look with 'kilter store check', and put the record back "
                           "from a backup; until then the handbook's odds count.")  # fmt: skip
        entries.append(entry)
        last = digest
    return Experience(tuple(entries))


def learned_mark() -> tuple[int, str]:
    """Number and digest of the last entry: what is made from an experience is as old as this."""
    last = LearnedEntry.objects.order_by("-number").values_list("number", "digest").first()
    return (last[0], last[1]) if last else (0, digest_of(HEAD_LINE))


def add_learned(actor: Person, kind: str, body: Mapping[str, Any], *, after: int) -> LearnedEntry:
    """
    Adds one entry.

    Args:
        actor: Somebody who may: learning, withdrawing and sharing are different verbs.
        kind: One of `kilter.services.experience.KINDS`.
        body: Plain data.
        after: Number of the last entry that was read; where another was added meanwhile, nothing is written.

    Raises:
        BadInput: Somebody was faster, or the body is no plain data.
        NotAllowed: The person's role does not allow it.
    """
    one_of(kind, "kind", KINDS, DOING)
    by_hand = kind == WITHDRAWN and not body.get(AUTOMATIC)
    add = _add_withdrawal if by_hand else _VERBS[kind]
    return add(actor, kind, body, after)


@verb(LEARN)
def _add_lesson(actor: Person, kind: str, body: Mapping[str, Any], after: int) -> LearnedEntry:
    return _written(actor, LEARN, kind, body, after)


@verb(WITHDRAW)
def _add_withdrawal(actor: Person, kind: str, body: Mapping[str, Any], after: int) -> LearnedEntry:
    return _written(actor, WITHDRAW, kind, body, after)


@verb(SHARE)
def _add_shared(actor: Person, kind: str, body: Mapping[str, Any], after: int) -> LearnedEntry:
    return _written(actor, SHARE, kind, body, after)


_VERBS = {VISIT: _add_lesson, COUNTS: _add_lesson, WITHDRAWN: _add_lesson, ACCEPTED: _add_shared,
          EXPORTED: _add_shared}  # fmt: skip


def _written(actor: Person, name: str, kind: str, body: Mapping[str, Any], after: int) -> LearnedEntry:
    if kind == WITHDRAWN:
        said(body.get("why", ""), "reason", 2000, DOING, empty=False)
    number, before = learned_mark()
    if number != after:
        raise BadInput(DOING, f"entry {number}, while entry {after} was the last that was read", "one after another",
                       "Try again.")  # fmt: skip
    at = now()
    text = json.dumps(body, ensure_ascii=False, sort_keys=True, allow_nan=False)
    entry = Entry(number + 1, moment(at), actor.key, kind, json.loads(text))
    row = LearnedEntry.objects.create(
        number=entry.number, kind=kind, body=text, before=before, digest=digest_of(line_of(entry, before)), at=at,
        who=actor,
    )  # fmt: skip
    evidence = [str(body["sha256"])] if kind in (ACCEPTED, EXPORTED) else []
    write(actor.key, name, WHAT, rows=[row], why=str(body.get("why", "")), evidence=evidence)
    return row


def _entry_of(row: LearnedEntry) -> Entry | None:
    """A row as an entry; None where its body is no plain data."""
    try:
        body = json.loads(row.body)
    except ValueError:
        return None
    if row.kind not in KINDS or not isinstance(body, dict):
        return None
    return Entry(row.number, moment(row.at), row.who.key, row.kind, body)


@verb(SHARE)
def note_own_key(actor: Person, key: str) -> None:
    """Tells the journal of the key that the collection signs with; its private half stays out of the record."""
    write(actor.key, SHARE, "the collection's own key", after={"key": key})


@verb(SHARE)
def know_sharer(
    actor: Person, name: str, key: str, trust: float, why: str = "", supersedes: KnownSharer | None = None
) -> KnownSharer:
    """
    Puts another collection's key on the list, or changes its name or trust.

    Args:
        actor: A registrar.
        name: What it is called here.
        key: As 'kilter share key' prints it there, given in person.
        trust: Weight of its counts from the next file on, 0 to 1.
        why: How the key was got, or why it is changed.
        supersedes: The row that stood until now.

    Raises:
        BadInput: It is no key, stands on the list already, or the trust is not between 0 and 1.
    """
    doing = "Cannot put the key on the list"
    digits = said(key, "key", 200, doing, empty=False).lower().replace(" ", "")
    if not re.fullmatch(r"[0-9a-f]{64}", digits):
        raise BadInput(doing, f"'{digits[:80]}'", "64 hexadecimal digits", "Copy it as it was given to you.")
    if not 0.0 <= trust <= 1.0:
        raise BadInput(doing, f"a trust of {trust:g}", "a weight from 0 to 1", "1 means: as good as our own counts.")
    _check_sharer(supersedes, doing)
    others = KnownSharer.objects.standing().exclude(pk=supersedes.pk if supersedes else None)
    if (supersedes is not None and supersedes.key != digits) or others.filter(key=digits).exists():
        raise BadInput(doing, "a key that stands on the list, or another key in its place", "each key once",
                       "Take the other one off the list first.")  # fmt: skip
    label = said(name, "name", 80, doing, empty=False)
    if others.filter(name=label).exists():
        raise BadInput(doing, f"the name '{label}' twice", "a name of its own", "Choose another name.")
    row = KnownSharer.objects.create(name=label, key=digits, trust=trust, why=said(why, "reason", 2000, doing),
                                     supersedes=supersedes, at=now(), who=actor)  # fmt: skip
    write(actor.key, SHARE, "keys of other collections", rows=[row], why=row.why)
    return row


@verb(SHARE)
def forget_sharer(actor: Person, sharer: KnownSharer, why: str) -> KnownSharer:
    """
    Takes a key off the list: its next file is refused. What was accepted counts until it is withdrawn.

    Raises:
        BadInput: No reason, or it is not on the list any more.
    """
    doing = "Cannot take the key off the list"
    _check_sharer(sharer, doing)
    row = KnownSharer.objects.create(
        name=sharer.name, key=sharer.key, trust=0.0, why=said(why, "reason", 2000, doing, empty=False),
        supersedes=sharer, withdrawn=True, at=now(), who=actor,
    )  # fmt: skip
    write(actor.key, SHARE, "keys of other collections", rows=[row], why=row.why)
    return row


def _check_sharer(earlier: KnownSharer | None, doing: str) -> None:
    if earlier is not None and not KnownSharer.objects.standing().filter(pk=earlier.pk).exists():
        raise BadInput(doing, "a row that another one took the place of", "a key that stands on the list",
                       "Look at the list as it is now.")  # fmt: skip
