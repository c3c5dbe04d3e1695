"""A showing as text for a terminal."""

from __future__ import annotations

from kilter.cli.layout import columns, heading, wrapped
from kilter.planning.display.usage import ASSUMED, COUNTED, PLANNED, Rate
from kilter.planning.numbers import number
from kilter.services.forecast_display import Need
from kilter.services.plan_display import CAUTIONS, LEAVE, WAIT, Advice, DisplayPlan
from kilter.services.stand_on_display import Standing
from kilter.services.wording import percent

SAID = {COUNTED: "counted", PLANNED: "as planned", ASSUMED: "assumed"}
LITTLE = 0.001
"""Pieces below which no figure is worth giving."""


def display_text(plan: DisplayPlan) -> str:
    """Everything that is worth a line."""
    parts = [f"{plan.showing.title}: as of {plan.today.isoformat()}", heading("how much they ran")]
    rows: list[tuple[str, ...]] = [("object", "", "hours so far", "a year", "switched on", "a year", "")]
    rows += [_standing(one) for one in plan.standings]
    parts.append(columns(rows))
    for one in plan.standings:
        if one.assumed:
            parts.append(wrapped(f"{one.thing.number}: assumed: {'; '.join(one.assumed)}.", 2, 2))
        if one.climate:
            beyond = "; ".join(one.climate)
            parts.append(wrapped(f"{one.thing.number}: the room was beyond its bounds: {beyond}.", 2, 2))
    parts += _due(plan)
    parts += _needs(plan)
    parts += _advice(plan)
    parts.append(heading("cautions"))
    parts += [wrapped(f"- {words}", 2, 2) for words in CAUTIONS]
    return "\n".join(parts)


def _standing(one: Standing) -> tuple[str, ...]:
    hours, switched = _so_far(one.hours, "h"), _so_far(one.switch_ons, "times")
    return (one.thing.number, one.thing.title, *hours, *switched, SAID[one.hours.basis])


def _so_far(rate: Rate, unit: str) -> tuple[str, str]:
    """Total and rate; what is assumed is no total."""
    total = "not known" if rate.told is None else f"at least {rate.told:.0f} {unit}"
    return (f"{rate.so_far:.0f} {unit}" if rate.known else total), f"{rate.a_year:.0f} {unit}"


def _due(plan: DisplayPlan) -> list[str]:
    rows = [("", "by", "object", "what", "last done")]
    rows += [("!" if one.over else "", one.day.isoformat(), one.object, one.words,
              one.last.isoformat() if one.last else "never written down") for one in plan.due]  # fmt: skip
    return [heading("due"), columns(rows)]


def _needs(plan: DisplayPlan) -> list[str]:
    share = number("display", "share")
    rows: list[tuple[str, ...]] = [
        ("part", "places", "failures", f"{share:.0%} of the times", "keep", "likeliest object")
    ]
    rows += [_need(one) for one in plan.needs]
    parts = [heading(f"failures in {plan.years:g} years, and spares that last with {share:.0%}"), columns(rows)]
    for one in plan.needs:
        if one.shelf is not None:
            store = f" and {one.shelf.store} in the store of {one.shelf.houses}" if one.shelf.store else ""
            short = f"{one.short:.2g}" if one.short >= LITTLE else f"fewer than {LITTLE:g}"
            parts.append(wrapped(f"{one.kind.words}: {one.shelf.here} here{store} last with {percent(one.lasts)}; "
                                 f"while the shelf is filled again, {short} are missing on average.", 2, 2))
    return parts


def _need(one: Need) -> tuple[str, ...]:
    name, (_, chance) = max(one.by_object.items(), key=lambda row: row[1][1])
    return (one.kind.words, str(one.places), f"{one.mean:.2g}", f"{one.low} to {one.high}", str(one.spares),
            f"{name}: {percent(chance)}")  # fmt: skip


def _advice(plan: DisplayPlan) -> list[str]:
    early = [one for one in plan.advice if one.day is not None]
    parts = [heading("renew before it fails?")]
    if not early:
        parts.append(wrapped("Nothing here is worth renewing before it fails.", 2))
    parts += [wrapped(f"- {_what(one)}: {one.verdict}, at {one.best.age:.1f} years of this use, about {one.day}: saves "
                      f"{percent(one.best.saved)} of what waiting costs.", 2, 2) for one in early]  # fmt: skip
    left = [_what(one) for one in plan.advice if one.verdict == LEAVE]
    if left:
        parts.append(wrapped("Leave until it fails, since taking out costs as much as the failure, heritage counted "
                             f"in: {'; '.join(left)}.", 2, 2))  # fmt: skip
    wait = [_what(one) for one in plan.advice if one.verdict == WAIT]
    if wait:
        parts.append(wrapped(f"Wait, since renewing early saves next to nothing: {'; '.join(wait)}.", 2, 2))
    return parts


def _what(one: Advice) -> str:
    group = one.group
    return f"{group.standing.thing.number} {group.kind.words}{' (original)' if group.original else ''}"
