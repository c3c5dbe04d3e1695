"""Whether parts may be taken from an object, by whose it is and who has agreed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table


@dataclass(frozen=True)
class Permission:
    """
    Whether an object may be taken apart.

    Args:
        may: No unless a rule says yes; what is not known is no.
        why: One sentence.
        missing: Approvals that are still to be had.
    """

    may: bool
    why: str
    missing: tuple[str, ...] = ()


def accession_states() -> tuple[str, ...]:
    """The words for whose an object is."""
    return tuple(table("planning/accession"))


def permission(accession: str, approvals: Iterable[str] = (), *, reference: bool = False) -> Permission:
    """
    Whether parts may be taken.

    Args:
        accession: One of `accession_states()`; '' where nobody wrote it down.
        approvals: Roles that have agreed, in writing.
        reference: It is a known-good board that others are compared with.

    Raises:
        BadInput: No such accession state.

    >>> permission("accessioned", ["keeper"]).missing
    ('governing body', 'registrar')
    >>> permission("donor_stock", reference=True).may
    False
    """
    if reference:
        return Permission(False, "It is a known-good board that others are compared with, and stays whole.")
    if not accession:
        return Permission(False, "Nobody wrote down whose it is; until then nothing is taken from it.")
    rule = _rule(accession)
    if rule["may"] == "no":
        return Permission(False, f"Nothing is taken from it ({rule['words']}).")
    given = {one.strip().lower() for one in approvals}
    missing = tuple(one for one in rule["approvals"] if one not in given)
    if missing:
        return Permission(False, f"It needs the written approval of: {', '.join(missing)} ({rule['words']}).", missing)
    agreed = f"; agreed: {', '.join(rule['approvals'])}" if rule["approvals"] else ""
    return Permission(True, f"{rule['words'].capitalize()}{agreed}.")


def _rule(accession: str) -> dict[str, Any]:
    rules = table("planning/accession")
    if accession not in rules:
        raise BadInput("Cannot tell whether parts may be taken", f"the accession state '{accession}'",
                       ", ".join(rules), "Use one of these words.")  # fmt: skip
    rule: dict[str, Any] = rules[accession]
    return rule
