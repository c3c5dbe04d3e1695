"""What a dossier tells of the proof of a repair, and of hours under power after it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ToldItem:
    """
    One item of an acceptance list.

    Args:
        unit: Key of the unit, '' for a word or a plain number.
        low, high: Limits, None where there is none on that side. [unit]
        limits: Both in words, also for what is read as a word.
        source: Where the limits come from.
        accepts_low, accepts_high: Readings that were accepted: the limits less their guard bands, for the instrument it
            was read with; None where there is no such end, or where that instrument accepts no reading. [unit]
        guarded: Whether those ends are known.
        read: With its uncertainty; '' where it was not read.
        verdict: 'accepted', 'rejected', 'cannot tell' or 'open'.
        because: The reason.
    """

    point: str
    quantity: str
    state: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    limits: str = ""
    source: str = ""
    accepts_low: float | None = None
    accepts_high: float | None = None
    guarded: bool = False
    read: str = ""
    verdict: str = "open"
    because: str = ""


@dataclass(frozen=True, slots=True)
class ToldAcceptance:
    """
    An acceptance list held against what was read in a visit since the last thing done.

    Args:
        visit: Number of the visit.
        verdict: 'accepted', 'rejected' or 'open'.
        risk: Most chance of a wrong verdict on one item.
        faults: That the list was made to catch, in words.
        wrongly_accepted: Accepted items to be expected outside their limits.
        not_whole: What was pulled or lifted and is not back.
    """

    visit: int
    verdict: str
    risk: float
    items: tuple[ToldItem, ...] = ()
    faults: tuple[str, ...] = ()
    wrongly_accepted: float = 0.0
    not_whole: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ToldChannel:
    """One channel of one log: limits (None for none), how many values, verdict with its reason."""

    channel: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    values: int = 0
    verdict: str = "cannot tell"
    words: str = ""


@dataclass(frozen=True, slots=True)
class ToldSession:
    """One time of being on: the log, hours watched, hours in which nobody watched, channels, and those not logged."""

    source: str
    hours: float = 0.0
    gaps: float = 0.0
    channels: tuple[ToldChannel, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ToldSoak:
    """
    A soak: what was planned, and what was found where anybody had it judged.

    Args:
        visit: Number of the visit.
        planned_hours: 0 where nobody planned it.
        state: Of the object while it ran.
        channels: Planned, without values.
        verdict: '' where nothing was judged.
        logs: SHA-256 of each, in the order of the sessions.
        hours: Watched.
        failures: In them.
        proofs: Confidence, and the mean time between failures that the hours prove at least. [h]
        least_switch_on: Least chance that switching on goes well; None where a failure forbids to say.
        proved: The same in sentences, and what they do not prove.
        words: Of the person who recorded it.
        at, who: When and by whom.
    """

    visit: int
    planned_hours: float = 0.0
    state: str = ""
    channels: tuple[ToldChannel, ...] = ()
    verdict: str = ""
    logs: tuple[str, ...] = ()
    sessions: tuple[ToldSession, ...] = ()
    hours: float = 0.0
    failures: int = 0
    proofs: tuple[tuple[float, float], ...] = ()
    least_switch_on: float | None = None
    proved: tuple[str, ...] = ()
    open: tuple[str, ...] = ()
    words: str = ""
    at: str = ""
    who: str = ""
