"""What has to be agreed before work is done: by grade, by whose object loses a part; making safe is never held back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from kilter.measure.tables import table
from kilter.planning.accession import permission

WORK, TAKE_PARTS, MAKE_SAFE = "work", "take parts", "make safe"
ACTS = (WORK, TAKE_PARTS, MAKE_SAFE)
CONSENT, REFUSAL = "consent", "refusal"
ANOTHER = "another person"
GRADES = range(7)
NOTHING: dict[str, Any] = {"approvals": (), "people": 0, "proposer": True}


@dataclass(frozen=True)
class Wanted:
    """
    What a proposal needs before it may be carried out.

    Args:
        approvals: Capacities in which somebody has to agree.
        people: How many different people have to agree, at least.
        proposer: Whether the proposer may be one of them.
        never: Why it cannot be done at all, '' where it can.
    """

    approvals: tuple[str, ...] = ()
    people: int = 0
    proposer: bool = True
    never: str = ""


@dataclass(frozen=True)
class Answer:
    """One person's answer to one version of a proposal."""

    version: int
    who: str
    capacity: str
    decision: str


@dataclass(frozen=True)
class Standing:
    """
    How a version of a proposal stands.

    Args:
        allowed: It may be carried out now.
        missing: Capacities that have not agreed.
        refused_by: Capacities that said no.
        words: The same for a person.
    """

    allowed: bool
    missing: tuple[str, ...]
    refused_by: tuple[str, ...]
    words: str


def wanted(act: str, grade: int, accession: str) -> Wanted:
    """
    What has to be agreed.

    Args:
        act: One of ACTS.
        grade: Intervention grade, 0 look to 6 irreversible.
        accession: Accession state of the object that is worked on or loses the part; '' where not known.

    >>> wanted("work", 6, "accessioned").approvals
    ('keeper', 'conservator')
    >>> wanted("make safe", 6, "loan").approvals
    ()
    >>> wanted("take parts", 4, "loan").never != ""
    True
    """
    if act == MAKE_SAFE:
        return Wanted()
    rules: dict[str, Any] = table("records/approvals")
    rule = rules["grades"].get(str(grade), NOTHING)
    approvals, people = tuple(rule["approvals"]), int(rule["people"])
    proposer, never = bool(rule["proposer"]), ""
    if act == TAKE_PARTS:
        donor = permission(accession)
        never = "" if donor.may or donor.missing else donor.why
        approvals = tuple(dict.fromkeys((*approvals, *donor.missing)))
        if donor.missing:
            proposer = proposer and bool(rules["donors"]["proposer"])
            people = max(people, int(rules["donors"]["people"]))
    return Wanted(approvals, people, proposer, never)


def capacities(roles: Iterable[str]) -> tuple[str, ...]:
    """
    In what capacities somebody with these roles may answer.

    >>> capacities(["registrar", "reader"])
    ('registrar', 'governing body')
    """
    rules = table("records/approvals")["capacities"]
    return tuple(dict.fromkeys(one for role in roles if isinstance(rules.get(role), list) for one in rules[role]))


def standing(need: Wanted, version: int, proposer: str, answers: Iterable[Answer]) -> Standing:
    """
    Whether a version is agreed: answers to earlier versions count for nothing.

    Where a person answered more than once in one capacity, the last answer stands.

    Args:
        need: What has to be agreed.
        version: The version asked about.
        proposer: Key of who proposed it.
        answers: In the order in which they were given.
    """
    if need.never:
        return Standing(False, need.approvals, (), f"cannot be done: {need.never}")
    last = {(one.who, one.capacity): one for one in answers if one.version == version}
    refused = tuple(sorted({one.capacity for one in last.values() if one.decision == REFUSAL}))
    agreed = [one for one in last.values() if one.decision == CONSENT and (need.proposer or one.who != proposer)]
    missing = tuple(one for one in need.approvals if one not in {answer.capacity for answer in agreed})
    if not missing and len({one.who for one in agreed}) < need.people:
        missing = (ANOTHER,)
    if refused:
        return Standing(False, missing, refused, f"refused by {', '.join(refused)}")
    if missing:
        return Standing(False, missing, (), f"waits for {', '.join(missing)}")
    return Standing(True, (), (), "agreed" if need.approvals else "needs no approval")
