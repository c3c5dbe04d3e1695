"""Share from the record: choose what goes out, look at it, sign it; take in what others signed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any, TypeVar

from django.db import transaction

from kilter.exporters.shared_files import write_new
from kilter.importers.shared_keys import read_private_key
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.accept_shared import Changed, Sharer, accepted_body, changes
from kilter.services.experience import ACCEPTED, EXPORTED, Entry, Experience
from kilter.services.learn_odds import before_deeds
from kilter.services.seal import new_key, public_key, sealed
from kilter.services.share_experience import SharedBoard, shared_content
from kilter.store.journal import now
from kilter.store.models import BoardEdition, KnownSharer, Person, Visit
from kilter.store.place import place
from kilter.store.verb import in_one_piece
from kilter.store.verbs.boards import unpacked
from kilter.store.verbs.files import file_store, keep_content
from kilter.store.verbs.learned import SHARE, note_own_key
from kilter.store.verbs.visits import log_of
from kilter.wiring.record_experience import RecordExperience
from kilter.wiring.shared_boards import board_for_others

R = TypeVar("R")
KEY_FILE = "sharing.pem"
MEDIA_TYPE = "application/octet-stream"


@dataclass(frozen=True)
class Choice:
    """
    What is to go out.

    Args:
        licence: Under which all of it is given away.
        kinds: Part kinds whose counts go out; None for all that were counted.
        boards: Editions of boards, each with its title for others.
        known_good: Visits to good specimens of these boards.
    """

    licence: str
    kinds: frozenset[str] | None = None
    boards: Mapping[BoardEdition, str] = field(default_factory=dict)
    known_good: Sequence[Visit] = ()


@dataclass(frozen=True)
class Outgoing:
    """
    A file as it would be signed.

    Args:
        content: The bytes.
        told: The same as plain data.
        left_out: Fields of the boards that stay here.
    """

    content: bytes
    told: Mapping[str, Any]
    left_out: tuple[str, ...]


def key_path() -> Path:
    """Where the record keeps the key it signs with; only its owner may read it."""
    return place().home / KEY_FILE


def own_key() -> str:
    """Public half of the record's own key; '' where none was made yet."""
    path = key_path()
    return public_key(read_private_key(path)) if path.exists() else ""


def make_key(actor: Person) -> str:
    """
    Makes the record's key, once. It is in no backup: who has it can sign in the collection's name.

    Args:
        actor: A registrar.

    Returns:
        Its public half.

    Raises:
        BadInput: There is one already, or the data folder cannot be written.
        NotAllowed: The person's role does not allow it.
    """
    pem, public = new_key()

    def once() -> str:
        note_own_key(actor, public)
        write_new(key_path(), pem, secret=True)
        return public

    return _together(once)


def good_specimens() -> list[Visit]:
    """Closed visits to good specimens with a board and readings, the latest first."""
    rows = Visit.objects.filter(known_good=True).select_related("object", "board_edition__board").order_by("-pk")
    return [one for one in rows if not one.is_open() and one.board_now() and specimen_readings(one)]


def specimen_readings(visit: Visit) -> tuple[Reading, ...]:
    """What was read on a good specimen before anything was done to it, without what somebody doubts."""
    return tuple(one for one in before_deeds(log_of(visit).readings()) if not one.doubtful)


def outgoing(experience: Experience, choice: Choice, today: date, key: str) -> Outgoing:
    """
    The file that would go out; nothing is written.

    Raises:
        BadInput: Something does not fit the list of fields, or there is nothing to share.
    """
    boards = {edition: _board(edition, title) for edition, title in choice.boards.items()}
    known_good = []
    for visit in choice.known_good:
        edition = visit.board_now()
        if edition is None or edition not in boards:
            raise BadInput("Cannot share the readings", f"those of {visit} without their board edition",
                           "known-good readings together with the board edition they were taken on",
                           "Choose the board edition too, or leave the readings out.")  # fmt: skip
        known_good.append((boards[edition].digest, specimen_readings(visit)))
    content = shared_content(experience, key, today, choice.licence, list(boards.values()), known_good,
                             kinds=choice.kinds)  # fmt: skip
    left_out = dict.fromkeys(name for one in boards.values() for name in one.left_out)
    return Outgoing(content, json.loads(content), tuple(left_out))


def write_shared(actor: Person, choice: Choice, today: date, pem: bytes | None = None) -> tuple[Entry, bytes]:
    """
    Signs a file, keeps it, and notes that it went out.

    Args:
        actor: A registrar.
        choice: What is in it.
        today: Date of issue.
        pem: Private key; the record's own unless given.

    Raises:
        BadInput: There is no key, or as `outgoing`.
        NotAllowed: The person's role does not allow it.
    """
    if pem is None:
        if not key_path().exists():
            raise BadInput("Cannot share", "no key to sign with", "the collection's own key", "Make it first.")
        pem = read_private_key(key_path())
    keeper = RecordExperience(actor)

    def once() -> tuple[Entry, bytes]:
        experience = keeper.read()
        found = outgoing(experience, choice, today, public_key(pem))
        data = sealed(found.content, pem)
        body = {"key": public_key(pem), "sequence": found.told["sequence"],
                "sha256": hashlib.sha256(found.content).hexdigest(), "file": hashlib.sha256(data).hexdigest(),
                "licence": choice.licence}  # fmt: skip
        entry = keeper.add(experience, EXPORTED, body)
        keep_content(actor, BytesIO(data), MEDIA_TYPE)
        return entry, data

    return _together(once)


def file_that_went_out(entry: Entry) -> bytes:
    """
    A file that was signed, as it was.

    Raises:
        BadInput: The entry is none of that kind, or the file is missing.
    """
    if entry.kind != EXPORTED or "file" not in entry.body:
        raise BadInput("Cannot bring the file", f"entry {entry.number}", "an entry that tells of a file for others",
                       "Look at the list.")  # fmt: skip
    with file_store().open(str(entry.body["file"])) as source:
        return source.read()


def known_sharers() -> tuple[Sharer, ...]:
    """Other collections on the record's list."""
    rows = KnownSharer.objects.standing().order_by("name")
    return tuple(Sharer(one.name, one.key, one.trust) for one in rows)


def look_at_shared(data: bytes, sharers: Sequence[Sharer], today: date) -> tuple[dict[str, Any], tuple[Changed, ...]]:
    """
    What accepting a file would add and change; nothing is written.

    Raises:
        BadInput: The file is refused; the message says why.
    """
    experience = RecordExperience().read()
    body = _body(data, sharers, experience, today)
    return body, changes(experience, body)


def accept_shared(
    actor: Person, data: bytes, sharers: Sequence[Sharer], today: date
) -> tuple[Entry, tuple[Changed, ...]]:
    """
    Accepts a file of another collection.

    Args:
        actor: A registrar.
        data: The file.
        sharers: Collections whose keys are known.
        today: The date.

    Raises:
        BadInput: The file is refused; the message says why.
        NotAllowed: The person's role does not allow it.
    """
    keeper = RecordExperience(actor)

    def once() -> tuple[Entry, tuple[Changed, ...]]:
        experience = keeper.read()
        body = _body(data, sharers, experience, today)
        return keeper.add(experience, ACCEPTED, body), changes(experience, body)

    return _together(once)


def _body(data: bytes, sharers: Sequence[Sharer], experience: Experience, today: date) -> dict[str, Any]:
    earlier = [str(one.body["key"]) for one in experience.entries if one.kind == EXPORTED]
    own = [one for one in (*earlier, own_key()) if one]
    return accepted_body(data, sharers, experience, today, own_keys=own)


def _together(work: Callable[[], R]) -> R:
    """Reading what is known and adding to it happen together, or not at all."""

    def once() -> R:
        with transaction.atomic():
            return work()

    return in_one_piece(f"Cannot {SHARE}", once)


def _board(edition: BoardEdition, title: str) -> SharedBoard:
    return board_for_others(unpacked(edition), title.strip())


def today() -> date:
    """The date, UTC."""
    return now().date()
