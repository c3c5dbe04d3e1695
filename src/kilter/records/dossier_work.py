"""What was proposed, agreed and done to an object, and where its parts went: the part of a dossier about work."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Approval:
    """
    One person's answer to one version of a proposal.

    Args:
        who: Key of the person.
        capacity: For whom the person speaks.
        decision: 'consent' or 'refusal'.
        words: Conditions, reasons, where the minutes are.
    """

    who: str
    capacity: str
    decision: str
    at: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class Proposal:
    """
    One version of a proposal, word for word.

    Args:
        number: Of the proposal, for this object.
        version: From 1; answers to an earlier one do not count for a later one.
        grade: Intervention grade, 0 look to 6 irreversible.
        alternatives: What else was weighed, doing nothing among it.
        undo: How it can be undone, or that it cannot.
        end: 'withdrawn', 'carried out', 'replaced' by a later version; '' while it is open.
    """

    number: int
    version: int
    act: str
    grade: int
    part: str = ""
    words: str = ""
    reason: str = ""
    alternatives: str = ""
    undo: str = ""
    at: str = ""
    who: str = ""
    approvals: tuple[Approval, ...] = ()
    end: str = ""


@dataclass(frozen=True, slots=True)
class Repair:
    """
    Something done to the object.

    Args:
        act: Such as 'replaced' or 'cleaned'.
        grade: Intervention grade; None where nobody wrote it down.
        fitted: What was fitted, its marking and where it came from; '' for nothing.
        proposal: What it was agreed under, such as '2, version 1'; '' for none.
        visit: Number of the visit; None for none.
        making_safe: It was done to make something safe.
        standing: False where a later entry took its place.
    """

    act: str
    part: str
    grade: int | None = None
    words: str = ""
    fitted: str = ""
    proposal: str = ""
    visit: int | None = None
    at: str = ""
    who: str = ""
    making_safe: bool = False
    standing: bool = True


@dataclass(frozen=True, slots=True)
class RemovedPart:
    """
    A part that came out.

    Args:
        number: As on its bag.
        part: Where on the board it was.
        words: Marking as read, date code, how it looks.
        original: Whether it left the factory in this object; None where nobody can tell.
        disposition: What became of it, such as 'kept with the object'.
        place: Where it is.
        at: When it was last moved.
        why: Why it went there.
    """

    number: str
    part: str
    words: str = ""
    original: bool | None = None
    disposition: str = ""
    place: str = ""
    at: str = ""
    why: str = ""
