"""Who may do what: one line for every verb of the record, and the six roles a person can have."""

from __future__ import annotations

from collections.abc import Iterable

from kilter.measure.errors import NotAllowed

READER, RECORDER, REPAIRER = "reader", "recorder", "repairer"
APPROVER, REGISTRAR, ADMINISTRATOR = "approver", "registrar", "administrator"
ROLES = (READER, RECORDER, REPAIRER, APPROVER, REGISTRAR, ADMINISTRATOR)

_ANYBODY = frozenset(ROLES)
_AT_WORK = frozenset({RECORDER, REPAIRER, APPROVER, REGISTRAR})

VERBS: dict[str, frozenset[str]] = {
    "look at the collection": _ANYBODY,
    "receive an object": frozenset({REGISTRAR}),
    "change an object's entry": frozenset({REGISTRAR}),
    "write about an object": _AT_WORK,
    "attach a file": _AT_WORK,
    "keep a board": frozenset({REPAIRER, REGISTRAR}),
    "open a visit": frozenset({RECORDER, REPAIRER}),
    "record at the bench": frozenset({RECORDER, REPAIRER}),
    "pass the power checks": frozenset({REPAIRER}),
    "propose work": frozenset({RECORDER, REPAIRER, APPROVER, REGISTRAR}),
    "answer a proposal": frozenset({APPROVER, REGISTRAR}),
    "record a repair": frozenset({REPAIRER}),
    "make something safe": _AT_WORK | {ADMINISTRATOR},
    "move a removed part": frozenset({REPAIRER, REGISTRAR}),
    "put on display": frozenset({REPAIRER, REGISTRAR}),
    "keep count on display": _AT_WORK,
    "start long work": frozenset({RECORDER, REPAIRER}),
    "stop long work": frozenset({RECORDER, REPAIRER, ADMINISTRATOR}),
    "look after people": frozenset({ADMINISTRATOR}),
    "say how a visit ended": frozenset({RECORDER, REPAIRER}),
    "learn from visits": frozenset({RECORDER, REPAIRER}),
    "withdraw what was learned": frozenset({REPAIRER, REGISTRAR}),
    "share experience": frozenset({REGISTRAR}),
    "hand the record over": frozenset({REPAIRER, APPROVER, REGISTRAR}),
}
"""Verb to the roles that may do it. An administrator looks after people and the machine, not after objects."""


def may(roles: Iterable[str], verb: str) -> bool:
    """
    Whether somebody with these roles may do it; nobody without a role may do anything.

    >>> may(["recorder"], "record at the bench"), may(["reader"], "record at the bench"), may([], "propose work")
    (True, False, False)
    """
    return not VERBS[verb].isdisjoint(roles)


def demand(roles: Iterable[str], verb: str) -> None:
    """
    Lets the right roles through.

    Raises:
        NotAllowed: None of the roles may do it.
    """
    held = tuple(roles)
    if not may(held, verb):
        wanted = ", ".join(role for role in ROLES if role in VERBS[verb])
        raise NotAllowed(f"Cannot {verb}", f"the role {', '.join(held)}" if held else "no role", wanted,
                         "Ask an administrator for the role, or a person who has it to do this.")  # fmt: skip
