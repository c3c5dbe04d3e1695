"""A showing and its forecast as plain data."""

from __future__ import annotations

import math
from typing import Any

from kilter.planning.display.usage import Rate
from kilter.planning.numbers import number
from kilter.services.forecast_display import Need
from kilter.services.plan_display import CAUTIONS, Advice, DisplayPlan


def display_plain(plan: DisplayPlan) -> dict[str, Any]:
    """As plain data."""
    return {
        "display": plan.showing.title, "on": plan.today.isoformat(), "years": plan.years,
        "objects": [{
            "object": one.thing.number, "title": one.thing.title, **_ran("hours", one.hours),
            **_ran("switch_ons", one.switch_ons),
            "celsius": one.use.celsius, "assumed": list(one.assumed), "climate": list(one.climate),
        } for one in plan.standings],
        "due": [{"object": one.object, "key": one.key, "words": one.words, "day": one.day.isoformat(), "over": one.over,
                 "last": one.last.isoformat() if one.last else None, "months": one.months} for one in plan.due],
        "needs": [need_plain(one) for one in plan.needs],
        "renewals": [_plain_advice(one) for one in plan.advice],
        "share": number("display", "share"), "cautions": list(CAUTIONS),
    }  # fmt: skip


def _ran(name: str, rate: Rate) -> dict[str, Any]:
    """A total that nobody counted or planned is null; what was counted of it stands under 'told'."""
    return {name: rate.so_far if rate.known else None, f"{name}_a_year": rate.a_year,
            f"{name}_counted": rate.counted, f"{name}_basis": rate.basis, f"{name}_told": rate.told}  # fmt: skip


def need_plain(one: Need) -> dict[str, Any]:
    """What one kind will need."""
    return {
        "kind": one.kind.key, "words": one.kind.words, "places": one.places, "mean": one.mean, "low": one.low,
        "high": one.high, "spares": one.spares, "source": one.kind.source,
        "by_object": [{"object": name, "mean": mean, "chance": chance}
                      for name, (mean, chance) in one.by_object.items()],
        "lasts": None if math.isnan(one.lasts) else one.lasts, "short": None if math.isnan(one.short) else one.short,
    }  # fmt: skip


def _plain_advice(one: Advice) -> dict[str, Any]:
    return {
        "object": one.group.standing.thing.number, "kind": one.group.kind.key, "places": one.group.places,
        "original": one.group.original, "verdict": one.verdict, "age_years": one.best.age, "saved": one.best.saved,
        "day": one.day.isoformat() if one.day else None, "planned_minutes": one.planned,
        "failure_minutes": one.failure,
    }  # fmt: skip
