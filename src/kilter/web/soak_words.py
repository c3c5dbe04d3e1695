"""What a soak told, in the page's language: the verdict of each channel with its reason and its limits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from kilter.measure.measured import engineering
from kilter.planning.soak.channel import CHANGED, DRIFTS, OPEN, STEADY, STOP
from kilter.web.spoken import by_locale

WORST = (STOP, CHANGED)
"""Verdicts that are set off."""
SIDES = ("low", "high")
USUAL, COUNTED = 4, 7
"""Digits of limits, and of those of frequencies, which a counter reads to the sixth."""


def verdict_words(verdict: str) -> str:
    """One of the verdicts."""
    said = {STOP: pgettext("soak", "stop"), CHANGED: pgettext("soak", "changed"), DRIFTS: pgettext("soak", "drifts"),
            OPEN: pgettext("soak", "cannot tell"), STEADY: pgettext("soak", "steady")}  # fmt: skip
    return said.get(verdict, verdict)


def limits_words(row: Mapping[str, Any], unit: str) -> str:
    """Where it stops."""
    most = COUNTED if unit == "Hz" else USUAL
    low, high = (None if row[side] is None else by_locale(engineering(row[side], unit, most)) for side in SIDES)
    if low is not None and high is not None:
        return _("%(low)s to %(high)s") % {"low": low, "high": high}
    if low is not None:
        return _("stop below %(low)s") % {"low": low}
    return _("stop above %(high)s") % {"high": high} if high is not None else _("no limits")


def reason_words(row: Mapping[str, Any]) -> str:
    """
    Why a channel has its verdict.

    Args:
        row: A channel of `kilter.services.tell_soak.told_soak`.
    """
    verdict, unit = row["verdict"], row["unit"]
    if verdict == STOP:
        return _("beyond its limits from %(hours)s h on") % {"hours": _figure(row["stop_hours"], 3)}
    if verdict == CHANGED:
        change = row["change"]
        return _("changed at about %(hours)s h, from %(before)s to %(after)s") % {
            "hours": _figure(change["began_hours"], 3), "before": by_locale(engineering(change["before"], unit, 5)),
            "after": by_locale(engineering(change["after"], unit, 5)),
        }  # fmt: skip
    if verdict == DRIFTS:
        return _drift(row["drift"], unit)
    if verdict == OPEN:
        if row["block"] is None:
            return _("too few values after warming up to look for a change")
        return _("values hang together so much that no rate of false alarms can be given")
    words = _("no change and no drift were seen")
    no_limits = row["low"] is None and row["high"] is None
    return f"{words}; {_('no limits were given, so nothing would have stopped it')}" if no_limits else words


def _drift(drift: Mapping[str, Any], unit: str) -> str:
    words = _("drifts by %(slope)s per hour") % {"slope": by_locale(engineering(drift["per_hour"], unit, 2))}
    if drift["hours_to_limit"] is None:
        return words
    soon = _("at that rate it meets a limit no sooner than %(hours)s h after the end") % {
        "hours": _figure(drift["hours_to_limit"], 3)
    }
    return f"{words}; {soon}"


def _figure(value: float, digits: int) -> str:
    return by_locale(f"{value:.{digits}g}")
