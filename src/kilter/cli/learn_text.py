"""What `kilter learn` prints, in plain text and as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kilter.cli.layout import columns, heading, wrapped
from kilter.diagnose.learned_odds import KindOdds, Weighted, by_kind, changed_by, learned, number
from kilter.parts.kinds import part_kinds
from kilter.services.experience import ACCEPTED, COUNTS, EXPORTED, VISIT, WITHDRAWN, Entry, Experience
from kilter.services.learn_times import Pace
from kilter.services.report_calibration import Calibration
from kilter.services.wording import percent

OWN = "this collection"
MODES = 4
"""Failure modes listed for a kind."""


def odds_plain(counts: Sequence[Weighted], band: str) -> dict[str, Any]:
    """Odds of every kind that was counted."""
    rows = [
        {
            "kind": about.kind, "handbook": about.handbook, "odds": about.odds, "low": about.low, "high": about.high,
            "parts": about.parts, "failures": about.failures, "modes": dict(about.modes),
            "changed_by": [
                {"source": source or OWN, "factor": factor}
                for source, factor in changed_by(about.kind, counts, band).items()
            ],
        }
        for about in _counted(counts, band)
    ]  # fmt: skip
    return {"age_band": band, "interval": number("interval"), "kinds": rows}


def odds_text(counts: Sequence[Weighted], band: str) -> str:
    """The same for people."""
    about = _counted(counts, band)
    if not about:
        return "Nothing was counted yet; the odds are those that Kilter comes with."
    rows = [("kind", "comes with", "learned", f"{number('interval'):.0%} interval", "failed, of", "who changed it")]
    for one in about:
        who = ", ".join(
            f"{source or OWN} x{factor:.2f}" for source, factor in changed_by(one.kind, counts, band).items()
        )
        interval = f"{percent(one.low)} to {percent(one.high)}"
        rows.append((one.kind, percent(one.handbook), percent(one.odds), interval,
                     f"{one.failures:.4g}, {one.parts:.5g}", who or "nobody"))  # fmt: skip
    title = f"odds of a failure, age {band} years" if band else "odds of a failure, any age"
    lines = [heading(title), columns(rows), heading("failure modes, learned (comes with)")]
    for one in about:
        modes = sorted(one.modes.items(), key=lambda item: -item[1])[:MODES]
        words = ", ".join(f"{key} {percent(share)} ({percent(one.handbook_modes[key])})" for key, share in modes)
        lines.append(wrapped(f"{one.kind}: {words}", 2, 4))
    return "\n".join(lines)


def calibration_text(found: Calibration) -> str:
    """The reliability curve."""
    return "\n".join(found.lines())


def times_text(found: Sequence[Pace]) -> str:
    """Minutes by kind of work."""
    if not found:
        return "No visit has times that tell how long work takes here."
    rows = [("work", "comes with", "learned", "times known"), *(
        (one.what, f"{one.usual:.2g} min", f"{one.minutes:.2g} min", str(one.times)) for one in found
    )]  # fmt: skip
    return columns(rows, indent=0)


def entries_text(experience: Experience) -> str:
    """Every entry, and whether it stands."""
    standing = {one.number for one in experience.standing()}
    rows = [("", "time", "what", "who", "stands")]
    for one in experience.entries:
        stands = "yes" if one.number in standing else "no"
        rows.append((str(one.number), one.time, _words(one), one.who or "-", stands))
    return columns(rows, indent=0) if experience.entries else "No entry yet."


def entry_plain(one: Entry) -> dict[str, Any]:
    """One entry."""
    return {"number": one.number, "time": one.time, "who": one.who, "kind": one.kind, "body": dict(one.body)}


def _words(one: Entry) -> str:
    body = one.body
    if one.kind == VISIT:
        return f"visit {body['file']}: {sum(sum(row['failures'].values()) for row in body['counts'])} failures"
    if one.kind == COUNTS:
        return f"counts {body['file']}"
    if one.kind == ACCEPTED:
        return f"from {body['name']}, number {body['sequence']}, trust {body['trust']:g}"
    if one.kind == WITHDRAWN:
        return f"withdraws {body['entry']}: {body['why']}"
    return f"told others, number {body['sequence']}" if one.kind == EXPORTED else one.kind


def _counted(counts: Sequence[Weighted], band: str) -> list[KindOdds]:
    own = by_kind(counts)
    return [learned(key, own[key], band) for key in part_kinds() if key in own]
