"""Receive an object and keep its entry; every edition stays."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kilter.measure.errors import BadInput
from kilter.planning.accession import accession_states
from kilter.store.journal import now, write
from kilter.store.models import CollectionObject, KnownBoard, ObjectEdition, Person, Statement
from kilter.store.models.collection import EDITED, STATES
from kilter.store.search import search_text
from kilter.store.verb import one_of, said, verb

MOST = {"number": 60, "name": 200, "kind": 120, "made": 60, "owner": 200, "location": 200, "limits": 4000}
RECEIVE, CHANGE = "receive an object", "change an object's entry"


@verb(RECEIVE)
def receive_object(actor: Person, fields: Mapping[str, Any], why: str = "") -> CollectionObject:
    """
    A new object.

    Args:
        actor: A registrar.
        fields: By name as in `kilter.store.models.collection.EDITED`, 'board' being a `KnownBoard` or None.
        why: How it came.

    Raises:
        BadInput: The number is taken, or a field does not do.
    """
    doing = "Cannot receive the object"
    return put_object(actor, _checked(fields, {}, doing), said(why, "reason", 2000, doing))


def put_object(actor: Person, checked: dict[str, Any], why: str) -> CollectionObject:
    """The rows of a new object; within a verb."""
    if CollectionObject.objects.filter(number=checked["number"]).exists():
        raise BadInput("Cannot receive the object", f"the number {checked['number']} twice", "a number of its own",
                       "Look which object has it.")  # fmt: skip
    found = CollectionObject.objects.create(
        **checked, edition=1, received=now(), search_text=search_text(str(checked[name]) for name in MOST)
    )
    edition = ObjectEdition.objects.create(
        object=found, edition=1, fields=_plain(checked), why=why, at=now(), who=actor
    )
    write(actor.key, RECEIVE, f"object {found.number}", rows=[edition], why=why)
    return found


@verb(CHANGE)
def edit_object(
    actor: Person, found: CollectionObject, fields: Mapping[str, Any], why: str, *, edition: int | None = None
) -> CollectionObject:
    """
    A new edition of an object's entry; the one before stays to be read.

    Args:
        actor: A registrar.
        found: The object.
        fields: What changes.
        why: The reason.
        edition: The edition that was looked at; where somebody was faster, nothing is written.

    Raises:
        BadInput: Somebody was faster, a field does not do, or nothing changes.
    """
    doing = f"Cannot change the entry of {found.number}"
    current = CollectionObject.objects.get(pk=found.pk)
    if edition is not None and edition != current.edition:
        raise BadInput(doing, f"edition {current.edition}, while you looked at {edition}", "the latest edition",
                       "Look at what the other person wrote, and change it again.")  # fmt: skip
    before = {name: getattr(current, name) for name in EDITED}
    before["board"] = before.pop("board_id") and current.board
    checked = _checked(fields, before, doing)
    reason = said(why, "reason", 2000, doing, empty=False)
    if _plain(checked) == _plain(before):
        raise BadInput(doing, "no change", "something that differs", "Leave it as it is.")
    if checked["number"] != current.number and CollectionObject.objects.filter(number=checked["number"]).exists():
        raise BadInput(doing, f"the number {checked['number']} twice", "a number of its own", "Choose another one.")
    for name, value in checked.items():
        setattr(current, name, value)
    current.edition += 1
    current.search_text = found_by(current)
    current.save()
    row = ObjectEdition.objects.create(
        object=current, edition=current.edition, fields=_plain(checked), why=reason, at=now(), who=actor
    )
    write(actor.key, CHANGE, f"object {current.number}", rows=[row], why=reason, before=_plain(before))
    return current


def found_by(one: CollectionObject) -> str:
    """Everything a search looks through: the entry and what stands about the object."""
    told = Statement.objects.standing().filter(object=one).order_by("pk").values_list("text", "source")
    return search_text([*(str(getattr(one, name)) for name in MOST), *(text for pair in told for text in pair)])


def find_again(one: CollectionObject) -> None:
    """Brings the search column up to date; it is made from the record and is no part of it."""
    CollectionObject.objects.filter(pk=one.pk).update(search_text=found_by(one))


def _checked(fields: Mapping[str, Any], before: Mapping[str, Any], doing: str) -> dict[str, Any]:
    odd = next((name for name in fields if name not in (*MOST, "accession", "state", "board")), None)
    if odd is not None:
        raise BadInput(doing, f"a field '{odd}'", ", ".join((*MOST, "accession", "state", "board")), "Leave it out.")
    told = {**dict.fromkeys(MOST, ""), "accession": "", "state": STATES[0], "board": None, **before, **fields}
    checked: dict[str, Any] = {
        name: said(told[name], name, most, doing, empty=name not in ("number", "name")) for name, most in MOST.items()
    }
    if "\n" in checked["number"] or checked["number"] in (".", ".."):
        raise BadInput(doing, "a number that is no number", "one line, as on the label", "Type it anew.")
    checked["accession"] = one_of(str(told["accession"]), "accession", ("", *accession_states()), doing)
    checked["state"] = one_of(str(told["state"]), "state", STATES, doing)
    checked["board"] = told["board"]
    assert checked["board"] is None or isinstance(checked["board"], KnownBoard)
    return checked


def _plain(checked: Mapping[str, Any]) -> dict[str, Any]:
    board = checked["board"]
    return {**{name: value for name, value in checked.items() if name != "board"}, "board": board.key if board else ""}
