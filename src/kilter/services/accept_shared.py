"""
Accept what another collection shares: who it is, that it is unchanged, new, in date, and nothing but what may be in it.

A file is refused with its reason. What is accepted has a trust weight between 0 and 1, stands beside the own counts
under the other collection's name, and can be withdrawn.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from kilter.diagnose.learned_odds import by_kind, learned
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instrument
from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.parts.kinds import part_kinds
from kilter.services.experience import ACCEPTED, Entry, Experience, counts_of
from kilter.services.seal import Sealed, check_signature, opened
from kilter.services.share_experience import board_digest
from kilter.services.shared_fields import FILE, check_fields


@dataclass(frozen=True)
class Sharer:
    """
    Another collection whose key is known.

    Args:
        name: What it is called here.
        key: Its public key, 64 hexadecimal digits.
        trust: Weight of its counts against the own ones, 0 to 1.
    """

    name: str
    key: str
    trust: float


@dataclass(frozen=True)
class Changed:
    """A kind whose odds an accepted file moves."""

    kind: str
    before: float
    after: float


def accepted_body(
    data: bytes, sharers: Sequence[Sharer], experience: Experience, today: date, *, own_keys: Sequence[str] = ()
) -> dict[str, Any]:
    """
    The body of the entry that accepts a shared file.

    Args:
        data: The file.
        sharers: Collections whose keys are known.
        experience: What was accepted before.
        today: The date.
        own_keys: Keys that the collection itself signs with.

    Raises:
        BadInput: The file is refused; the message says why.
    """
    doing = "Cannot accept the shared file"
    most = int(table("sharing/limits")["most_bytes"]["value"])
    if len(data) > most:
        raise BadInput(doing, f"{len(data)} bytes", f"at most {most} bytes", "Ask for a smaller one.")
    sealed = opened(data, doing)
    if sealed.key in own_keys:
        raise BadInput(doing, "a file that this collection signed itself", "files of others",
                       "Nothing is to be done: its counts are here already.")  # fmt: skip
    sharer = next((one for one in sharers if one.key == sealed.key), None)
    if sharer is None:
        raise BadInput(doing, f"a signature by an unknown key, {sealed.key[:16]}...",
                       ", ".join(f"{one.name} ({one.key[:16]}...)" for one in sharers) or "no key is known yet",
                       "Ask its holder for the key in person, and add it to the list of keys.")  # fmt: skip
    content = content_of(sealed, doing)
    _check_dates(content, today, doing)
    sha256 = hashlib.sha256(sealed.content).hexdigest()
    _check_new(content, sha256, experience.accepted(sealed.key), doing)
    counts_of(content, doing)
    _check_versions(content, doing)
    _check_readings(content, doing)
    return {**content, "key": sealed.key, "name": sharer.name, "trust": sharer.trust, "sha256": sha256}


def content_of(one: Sealed, doing: str) -> dict[str, Any]:
    """
    What a shared file holds, its signature and every field checked.

    Raises:
        BadInput: The signature does not fit, or something is in it that may not be.
    """
    check_signature(one, doing)
    content = _content(one.content, doing)
    check_fields(content, doing)
    return content


def changes(experience: Experience, body: Mapping[str, Any]) -> tuple[Changed, ...]:
    """Kinds whose odds the file moves by a factor worth telling, the most moved first."""
    least = float(table("sharing/limits")["worth_telling"]["value"])
    number = len(experience.entries) + 1
    after = Experience((*experience.entries, Entry(number, "", "", ACCEPTED, body)))
    old, new = by_kind(experience.weighted()), by_kind(after.weighted())
    found = [
        Changed(kind, learned(kind, old.get(kind, ())).odds, learned(kind, new.get(kind, ())).odds)
        for kind in part_kinds()
        if kind in old or kind in new
    ]
    worth = [one for one in found if not 1.0 / least < one.after / one.before < least]
    return tuple(sorted(worth, key=lambda one: -max(one.after / one.before, one.before / one.after)))


def _content(data: bytes, doing: str) -> dict[str, Any]:
    try:
        content = json.loads(data.decode("utf-8"), parse_constant=_no_such_number, object_pairs_hook=_once)
    except (ValueError, RecursionError) as error:
        raise BadInput(doing, f"content that cannot be read: {error}", "JSON in UTF-8", "Ask for it again.") from None
    missing = sorted(set(FILE) - set(content)) if isinstance(content, dict) else sorted(FILE)
    if missing:
        raise BadInput(doing, f"no {', '.join(missing)}", ", ".join(FILE), "Ask for a whole file.")
    found: dict[str, Any] = content
    return found


def _no_such_number(word: str) -> float:
    raise ValueError(f"the number {word}")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A key that is there twice would be read one way here and another way elsewhere."""
    if len({key for key, _ in pairs}) < len(pairs):
        raise ValueError("a key that is there twice")
    return dict(pairs)


def _check_dates(content: Mapping[str, Any], today: date, doing: str) -> None:
    limits = table("sharing/limits")
    issued, expires = date.fromisoformat(content["issued"]), date.fromisoformat(content["expires"])
    if issued > today + timedelta(days=limits["clock_days"]["value"]):
        raise BadInput(
            doing, f"{issued} as its date of issue", f"a date up to {today}", "Check the clocks, here and there."
        )
    last = min(expires, issued + timedelta(days=limits["valid_days"]["value"]))
    if today > last:
        raise BadInput(
            doing, f"a file that ran out on {last}", f"files that are valid on {today}", "Ask for a new one."
        )


def _check_new(content: Mapping[str, Any], sha256: str, earlier: Sequence[Entry], doing: str) -> None:
    last = max((int(one.body["sequence"]) for one in earlier), default=0)
    if any(one.body["sha256"] == sha256 for one in earlier):
        raise BadInput(
            doing, f"number {content['sequence']}, which was accepted before (replayed)", f"numbers above {last}",
            "Nothing is to be done: it counts already, or was withdrawn here.",
        )  # fmt: skip
    if int(content["sequence"]) <= last:
        raise BadInput(doing, f"number {content['sequence']} of that key, older than what was accepted (replayed)",
                       f"numbers above {last}", "Ask for its newest file.")  # fmt: skip


def _check_versions(content: Mapping[str, Any], doing: str) -> None:
    for one in content["boards"]:
        if set(one) != {"title", "revision", "licence", "digest", "board", "netlist"}:
            raise BadInput(doing, "a board that lacks a field", "all fields of a board", "Ask for a whole file.")
        if board_digest(one["board"], one["netlist"]) != one["digest"]:
            raise BadInput(doing, f"the board '{one['title']}' with the version of another", "its own version",
                           "Ask for it again.")  # fmt: skip
    for one in content["known_good"]:
        if not {"board", "licence", "readings"} <= set(one):
            raise BadInput(doing, "known-good readings that lack a field", "board, licence, readings", "Ask again.")


def _check_readings(content: Mapping[str, Any], doing: str) -> None:
    """Quantities and instruments that Kilter knows; otherwise the readings could not be written down here."""
    for row in (row for one in content["known_good"] for row in one["readings"]):
        if not {"point", "quantity", "value"} <= set(row):
            raise BadInput(doing, "a known-good reading that lacks a field", "point, quantity, value", "Ask again.")
        quantity(row["quantity"])
        if row.get("instrument"):
            instrument(row["instrument"])
