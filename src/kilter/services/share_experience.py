"""
Share experience: what a collection knows, without any object, person or place, ready to be signed.

Only fields of a list go out (kilter.services.shared_fields). Counts are those that the collection made itself, all of
them each time, so that nothing comes back to where it was counted and nothing is counted twice.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from kilter.diagnose.learned_odds_counts import NO_AGE, Count
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.records.reading import Reading
from kilter.services.experience import EXPORTED, Experience, plain_counts, totals
from kilter.services.shared_fields import BOARD, Each, OneOf, check_fields, first_wrong
from kilter.services.shared_netlist import bare_netlist

DOING = "Cannot share"


@dataclass(frozen=True)
class SharedBoard:
    """
    A board for others.

    Args:
        title: What it is called for them.
        revision: Of the design.
        board: Its board file with the fields that are shared, without the netlist.
        netlist: Its circuit without comments; '' where it has none.
        left_out: Fields of the board file that stay here, '*' for any name.
    """

    title: str
    revision: str
    board: Mapping[str, Any]
    netlist: str
    left_out: tuple[str, ...]

    @property
    def digest(self) -> str:
        """SHA-256 of its content: the version of the board."""
        return board_digest(self.board, self.netlist)


def board_digest(board: Mapping[str, Any], netlist: str) -> str:
    """The version of a board: SHA-256 of what is shared of it."""
    plain = json.dumps([board, netlist], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(plain.encode()).hexdigest()


def told_counts(counts: Sequence[Count]) -> list[Count]:
    """
    Counts behind which enough objects stand; those of few objects are told without age, or not at all.

    >>> from kilter.diagnose.learned_odds_counts import Count
    >>> told_counts([Count("led", "20-30", 9, {}, 2), Count("led", "40-50", 9, {}, 2)])
    [Count(kind='led', band='', parts=18, failures={}, objects=4)]
    """
    least, found = int(table("sharing/limits")["least_objects"]["value"]), []
    every = totals(counts)
    for kind in sorted({one.kind for one in every}):
        rows = sorted((one for one in every if one.kind == kind), key=lambda one: (one.band != NO_AGE, one.objects))
        small = [one for one in rows if one.band == NO_AGE or one.objects < least]
        large = [one for one in rows if one not in small]
        while small and sum(one.objects for one in small) < least and large:
            small.append(large.pop(0))
        together = totals([Count(kind, NO_AGE, one.parts, one.failures, one.objects) for one in small])
        found += [one for one in (*together, *large) if one.objects >= least]
    return found


def shareable_board(file: Mapping[str, Any], netlist: str, title: str) -> SharedBoard:
    """
    What of a board file goes out.

    Args:
        file: The board file as plain data.
        netlist: Text of its SPICE netlist, '' where it has none.
        title: What the board is called for others.

    Raises:
        BadInput: A title or a name within the board that is longer or other than a name.
    """
    left_out: list[str] = []
    board = _kept({key: value for key, value in file.items() if key not in ("board", "netlist")}, BOARD, "", left_out)
    revision = str(board.get("revision", ""))
    fields = dict.fromkeys(re.sub(r"\..*\.", ".*.", one) for one in left_out)
    return SharedBoard(title, revision, board, bare_netlist(netlist), tuple(fields))


def shareable_readings(readings: Sequence[Reading]) -> list[dict[str, Any]]:
    """Readings of a known-good board: where, what and how well, without when, who and what was noted."""
    rows = []
    for one in readings:
        if one.quantity == "done":
            raise BadInput(f"{DOING} known-good readings", f"a deed on {one.point}", "readings of a board as it came",
                           "Leave out what came after.")  # fmt: skip
        value: float | str = one.word if one.value is None else one.value
        if value in (float("inf"), float("-inf")):
            value = "OL"
        row = {"point": one.point, "quantity": one.quantity, "value": value, "uncertainty": one.uncertainty,
               "state": one.state, "instrument": one.instrument}  # fmt: skip
        rows.append({key: told for key, told in row.items() if told not in ("", 0.0) or key == "value"})
    return rows


def shared_content(
    experience: Experience,
    key: str,
    today: date,
    licence: str,
    boards: Sequence[SharedBoard] = (),
    known_good: Sequence[tuple[str, Sequence[Reading]]] = (),
    *,
    kinds: Collection[str] | None = None,
) -> bytes:
    """
    The bytes to sign.

    Args:
        experience: Whose own counts go out, and whose earlier exports give the number of this one.
        key: Public key that will sign, in hexadecimal digits.
        today: Date of issue.
        licence: Under which all of it is given away.
        boards: Board models.
        known_good: Version of a board, and readings of one good specimen of it.
        kinds: Part kinds whose counts go out; None for all. A kind that is left out no longer counts with those who
            accepted an earlier file with it, for the newest file takes the place of the older ones.

    Raises:
        BadInput: Something does not fit the list of fields, or there is nothing to share.
    """
    counts = told_counts([one for one in experience.own() if kinds is None or one.kind in kinds])
    if not (counts or boards or known_good):
        least = int(table("sharing/limits")["least_objects"]["value"])
        raise BadInput(DOING, "no counts of enough objects, no board and no readings",
                       f"counts behind which at least {least} objects stand, boards or readings",
                       "Learn from more visits first.")  # fmt: skip
    days = int(table("sharing/limits")["valid_days"]["value"])
    content = {
        "sequence": next_sequence(experience, key),
        "issued": today.isoformat(),
        "expires": (today + timedelta(days=days)).isoformat(),
        "licence": licence,
        "counts": plain_counts(counts),
        "boards": [
            {"title": one.title, "revision": one.revision, "licence": licence, "digest": one.digest,
             "board": dict(one.board), "netlist": one.netlist}
            for one in boards
        ],
        "known_good": [
            {"board": version, "licence": licence, "readings": shareable_readings(readings)}
            for version, readings in known_good
        ],
    }  # fmt: skip
    check_fields(content, DOING)
    return (json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n").encode()


def next_sequence(experience: Experience, key: str) -> int:
    """The number of the next file that this key signs."""
    earlier = [
        int(one.body["sequence"]) for one in experience.entries if one.kind == EXPORTED and one.body["key"] == key
    ]
    return max(earlier, default=0) + 1


def _kept(value: Any, form: Any, place: str, left_out: list[str]) -> Any:
    """The part of plain data that the form has; what it has not is named in `left_out`."""
    if isinstance(form, OneOf):
        return value
    if isinstance(form, Each):
        if form.named and isinstance(value, dict):
            return {key: _kept(row, form.what, f"{place}.{key}".lstrip("."), left_out) for key, row in value.items()}
        if not form.named and isinstance(value, list):
            return [_kept(row, form.what, place, left_out) for row in value]
        return value
    if isinstance(form, Mapping) and isinstance(value, dict):
        left_out += [f"{place}.{key}".lstrip(".") for key in value if key not in form]
        kept = {key: row for key, row in value.items() if key in form}
        return {key: _kept(row, form[key], f"{place}.{key}".lstrip("."), left_out) for key, row in kept.items()}
    return value


def unfit(board: SharedBoard) -> str:
    """What in a board does not look like what its field holds, in words; '' where all does."""
    return first_wrong(dict(board.board), BOARD, "the board")
