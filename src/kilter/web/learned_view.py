"""What the page of what was learned shows, as plain data with places on its drawings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log10
from typing import Any

from kilter.diagnose.learned_odds import KindOdds, Weighted, by_kind, changed_by, learned
from kilter.measure.tables import table
from kilter.parts.kinds import part_kind, part_kinds
from kilter.services.experience import ACCEPTED, COUNTS, EXPORTED, VISIT, WITHDRAWN, Entry, Experience
from kilter.services.learn_times import REPAIR, SETUP, Times, paces
from kilter.services.report_calibration import Bin, Calibration, Curve, calibration_of

DECADES = 4
"""The odds' drawing goes from a ten-thousandth to one."""
EDGE, SIDE = 40.0, 260.0
"""Margin and side of the square in which a reliability curve is drawn."""


def odds_view(experience: Experience, band: str) -> list[dict[str, Any]]:
    """
    Odds of every kind that was counted.

    Args:
        experience: What counts.
        band: Age band, '' for any age.
    """
    counts = experience.weighted()
    own = by_kind(counts)
    return [_odds(learned(key, own[key], band), counts, band) for key in part_kinds() if key in own]


def _odds(about: KindOdds, counts: Sequence[Weighted], band: str) -> dict[str, Any]:
    modes = sorted(about.modes.items(), key=lambda pair: -pair[1])[:4]
    return {
        "kind": part_kind(about.kind).words, "key": about.kind, "handbook": about.handbook, "odds": about.odds,
        "low": about.low, "high": about.high, "failed": about.failures, "parts": about.parts,
        "who": changed_by(about.kind, counts, band).items(),
        "modes": [(key, share, about.handbook_modes[key]) for key, share in modes],
        "places": {name: _decade(getattr(about, name)) for name in ("handbook", "odds", "low", "high")},
    }  # fmt: skip


def _decade(share: float) -> float:
    """Where a probability stands on a line of 100 from 10^-DECADES to 1, by its logarithm."""
    return round(min(max(100.0 * (1.0 + log10(max(share, 1e-12)) / DECADES), 0.0), 100.0), 2)


def calibration_view(visits: Sequence[Any]) -> dict[str, Any]:
    """How calls came true: figures and the drawing of the reliability curve."""
    found = calibration_of(visits)
    curves = [("as called", found.as_called), ("recalibrated", found.recalibrated)]
    return {
        "visits": found.visits, "cases": sum(one.cases for one in found.as_called.bins), "least": _least(),
        "curves": [_curve(name, one) for name, one in curves if one is not None and one.bins],
        "few": found.recalibrated is None, "helps": _helps(found),
        "ticks": [{"at": 20 * n, "x": _x(n / 5), "y": _y(n / 5)} for n in range(6)],
        "left": _x(0), "right": _x(1), "top": _y(1), "bottom": _y(0),
    }  # fmt: skip


def _helps(found: Calibration) -> bool:
    return found.recalibrated is not None and found.recalibrated.brier < found.as_called.brier


def _curve(name: str, curve: Curve) -> dict[str, Any]:
    return {"name": name, "brier": curve.brier, "worst": curve.worst(), "bins": [_bin(one) for one in curve.bins],
            "square": name != "as called"}  # fmt: skip


def _bin(one: Bin) -> dict[str, Any]:
    return {"start": one.start, "end": one.end, "cases": one.cases, "called": one.called, "share": one.share,
            "low": one.low, "high": one.high, "gap": one.gap, "judged": one.cases >= _least(), "x": _x(one.called),
            "y": _y(one.share), "y_low": _y(one.low), "y_high": _y(one.high)}  # fmt: skip


def _x(share: float) -> float:
    return round(EDGE + SIDE * share, 1)


def _y(share: float) -> float:
    return round(EDGE / 2 + SIDE * (1.0 - share), 1)


def _least() -> int:
    return int(table("learning/calibration")["least_cases"]["value"])


def times_view(times: Times) -> list[Mapping[str, Any]]:
    """Minutes by kind of work; a quantity is told by its key."""
    rows: list[Mapping[str, Any]] = []
    for one in paces(times):
        fixed = one.what == SETUP or one.what.startswith(REPAIR)
        rows.append({"what": one.what, "quantity": not fixed, "usual": one.usual, "minutes": one.minutes,
                     "times": one.times, "factor": one.factor})  # fmt: skip
    return rows


def entries_view(experience: Experience, people: Mapping[str, str]) -> list[dict[str, Any]]:
    """
    Every entry, the latest first.

    Args:
        experience: All of them.
        people: Names by key.
    """
    standing = {one.number for one in experience.standing()}
    return [entry_view(one, stands=one.number in standing, people=people) for one in reversed(experience.entries)]


def entry_view(one: Entry, *, stands: bool, people: Mapping[str, str]) -> dict[str, Any]:
    """One entry."""
    body = one.body
    return {
        "number": one.number, "time": one.time[:16].replace("T", " "), "who": people.get(one.who, one.who),
        "kind": one.kind, "stands": stands, "body": body, "parts": sum(row.parts for row in one.counts),
        "failed": sum(row.failed for row in one.counts), "is_visit": one.kind == VISIT, "is_counts": one.kind == COUNTS,
        "is_accepted": one.kind == ACCEPTED, "is_withdrawn": one.kind == WITHDRAWN, "is_exported": one.kind == EXPORTED,
        "can_go": stands and one.kind in (VISIT, COUNTS, ACCEPTED, WITHDRAWN),
    }  # fmt: skip
