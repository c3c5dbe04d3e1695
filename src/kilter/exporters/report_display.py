"""An object on display in the words of a report; what nobody counted is not known, and what never was is said."""

from __future__ import annotations

from kilter.exporters.report_words import at
from kilter.exporters.report_work import Table
from kilter.records.dossier import Dossier
from kilter.records.dossier_display import COUNTED, Ending, ToldCount, ToldDisplay, ToldDue

NOT_TOLD = "Whether it was ever on display is not told in what this report was made from."
NEVER = "It was never on display, as far as the record tells."
NOT_KNOWN = "not known"
NOT_NOW = "What is due is worked out while an object is on display; this one is not."
NO_DUE = "Nothing is due, as far as the record tells; that does not say that it may run."
STOOD, READ, INSPECTED = "Where it stood:", "Hours, switch-ons and the room, as written down:", "Inspections:"
RENEWED, WEARS = "Parts renewed:", "Parts that wear, as somebody counted them:"
DUE = "Due next, of what objects on display are looked at and renewed for:"
NO_INSPECTION, NO_RENEWAL = "No inspection was recorded.", "No renewed part was recorded."
NO_ENTRY = "No hours, switch-ons or figures of the room were recorded."
NAMES = {"hours": ("Hours on display", "h"), "switch_ons": ("Switch-ons on display", "")}


def display_words(told: ToldDisplay) -> tuple[str, ...]:
    """Whether it is or was there, and how long it ran."""
    first = f"On {told.day} it is {'' if told.now else 'not '}on display." if told.shown else NEVER
    counts = [_count(one) for one in told.counts if told.shown or one.counted is not None]
    return (first, *counts, *(f"Not worked out: {words}" for words in told.open))


def _count(one: ToldCount) -> str:
    name, unit = NAMES.get(one.what, (one.what, ""))
    if one.counted is None:
        words = f"{name}: {NOT_KNOWN}, since nobody counted"
    else:
        words = f"{name}: {_number(one.counted)} {unit} counted".replace("  ", " ")
    if one.reckoned is not None:
        how = "as fast as counted" if one.basis == COUNTED else "as planned"
        words += f"; with the days on which nobody counted about {one.reckoned:.0f} {unit}".rstrip() + f", taken {how}"
    before = NOT_KNOWN if one.before is None else f"{_number(one.before)} {unit}".strip()
    return f"{words}. Before it came on display: {before}."


def stretches(dossier: Dossier, told: ToldDisplay) -> Table:
    """Where and when it stood."""
    heads = ("when", "where", "conditions", "planned a week", "behind it on the first day",
             "parts above the room", "written down", "remarks")  # fmt: skip
    rows: list[tuple[str, ...]] = [
        (f"{one.begin} to {one.end}" if one.end else f"{one.begin}, no end told", one.place or "not said",
         one.conditions or "not said",
         _both(one.hours_a_week, one.switch_ons_a_week), _both(one.hours_before, one.switch_ons_before),
         _known(one.warmth, "K"), _written(dossier, one.at, one.who), _ended(dossier, one.ended))
        for one in told.stretches
    ]  # fmt: skip
    return heads, rows


def running(dossier: Dossier, told: ToldDisplay) -> Table:
    """What was read and counted, and the room."""
    heads = ("day", "what", "hours", "switch-ons", "room", "words", "written down", "remarks")
    rows: list[tuple[str, ...]] = []
    for one in told.running:
        days = f"{one.first} to {one.day}" if one.first and one.first != one.day else one.day
        room = [_known(value, unit) for value, unit in ((one.celsius, "°C"), (one.humidity, "% relative humidity"))
                if value is not None]  # fmt: skip
        remarks = ["the meter counts anew" if one.anew else "", _ended(dossier, one.ended)]
        counts = ("", "") if one.kind == "room" else (_known(one.hours, "h"), _known(one.switch_ons, "times"))
        rows.append((days, one.kind, *counts, ", ".join(room), one.words, _written(dossier, one.at, one.who),
                     "; ".join(word for word in remarks if word)))  # fmt: skip
    return heads, rows


def inspected(dossier: Dossier, told: ToldDisplay) -> Table:
    """What was inspected, what was found and by whom."""
    heads = ("day", "what", "outcome", "what was found", "inspected by", "again by", "written down", "remarks")
    rows: list[tuple[str, ...]] = [
        (one.day, one.what or one.key, one.outcome, one.words, one.inspector or dossier.shown(one.who), one.again,
         _written(dossier, one.at, one.who), _ended(dossier, one.ended)) for one in told.inspections
    ]  # fmt: skip
    return heads, rows


def renewed(dossier: Dossier, told: ToldDisplay) -> Table:
    """Parts that were renewed."""
    heads = ("day", "what", "how many", "of which had failed", "words", "written down", "remarks")
    rows: list[tuple[str, ...]] = []
    for one in told.renewed:
        remarks = ["from the work done, by the board" if one.from_work else "", _ended(dossier, one.ended)]
        rows.append((one.day, one.what or one.kind, str(one.count), NOT_KNOWN if one.failed is None else
                     str(one.failed), one.words, _written(dossier, one.at, one.who),
                     "; ".join(word for word in remarks if word)))  # fmt: skip
    return heads, rows


def wears(dossier: Dossier, told: ToldDisplay) -> Table:
    """How many parts that wear somebody said it has."""
    heads = ("parts that wear", "how many", "words", "written down", "remarks")
    rows: list[tuple[str, ...]] = [
        (one.what or one.kind, str(one.count), one.words, _written(dossier, one.at, one.who),
         _ended(dossier, one.ended)) for one in told.wears
    ]  # fmt: skip
    return heads, rows


def due_words(one: ToldDue) -> str:
    """By when, what, and when it was done last."""
    if not one.months:  # a renewal, which comes once
        return f"{'overdue' if one.over else f'by {one.day}'}: {one.words}"
    last = f"done last on {one.last}" if one.last else "never done, as far as anybody wrote down"
    return f"{'overdue' if one.over and one.last else f'by {one.day}'}: {one.words} ({last}; every {one.months} months)"


def _ended(dossier: Dossier, ended: Ending | None) -> str:
    if ended is None:
        return ""
    head = "replaced by a later entry" if ended.kind == "replaced" else ended.kind
    rest = " ".join(word for word in (at(ended.at), dossier.shown(ended.who)) if word)
    words = f"{head} ({rest})" if rest else head
    return f"{words}: {ended.why}" if ended.why else words


def _written(dossier: Dossier, stamp: str, who: str) -> str:
    return f"{at(stamp)} {dossier.shown(who)}".strip()


def _both(hours: float | None, switch_ons: float | None) -> str:
    told = f"hours: {_known(hours, 'h')}", f"switch-ons: {_known(switch_ons, 'times')}"
    return "; ".join(told)


def _known(value: float | None, unit: str) -> str:
    return NOT_KNOWN if value is None else f"{_number(value)} {unit}"


def _number(value: float) -> str:
    return f"{value:.10g}"
