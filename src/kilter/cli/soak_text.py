"""Soak plans and verdicts as text for a terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from kilter.cli.layout import columns, heading, wrapped
from kilter.measure.measured import engineering
from kilter.planning.soak.channel import Channel, Judged
from kilter.planning.soak.proved import Bound
from kilter.services.judge_soak import Session, SoakVerdict
from kilter.services.plan_soak import CAUTIONS, SoakPlan
from kilter.services.wording import percent

DAY = 8.0
"""Hours of one day on display, for which a chance is told."""


def plan_text(plan: SoakPlan) -> str:
    """The plan."""
    parts = [f"{plan.board}: soak of {plan.hours:g} h in state '{plan.state}'"]
    parts += [wrapped(f"- {words}", 2, 2) for words in CAUTIONS]
    parts.append(heading("how often"))
    rows = [("from", "to", "a value every", "values", "")]
    rows += [(f"{one.start:g} h", f"{one.end:g} h", f"{one.every:g} min", str(one.values), one.words)
             for one in plan.stages]  # fmt: skip
    parts.append(columns(rows))
    parts.append(heading("what to log, and where to stop"))
    parts.append(columns([("channel", "stop below", "stop above", ""), *(_channel(one) for one in plan.channels)]))
    parts.append(wrapped("Stop too at smoke, smell, noise, a picture that changes, or anything too hot to touch.", 2))
    parts.append(heading("what it would prove"))
    parts += _proofs(plan.hours, 0, plan.proofs)
    parts.append(wrapped(f"Of a steady object, {plan.false_alarms:.1f} false alarms of change are to be expected in "
                         "all channels together.", 2))  # fmt: skip
    return "\n".join(parts)


def _channel(one: Channel) -> tuple[str, ...]:
    low, high = (engineering(value, one.unit, 4) if math.isfinite(value) else "-" for value in (one.low, one.high))
    return one.name, low, high, one.why


def judged_text(found: SoakVerdict) -> str:
    """What the logs tell."""
    parts = [f"Verdict: {found.worst}."]
    for one in found.sessions:
        parts += _session(one)
    parts.append(heading("what the hours prove"))
    parts += _proofs(found.hours, found.failures, found.proofs)
    if not math.isnan(found.least_switch_on):
        level = max(one.confidence for one in found.proofs)
        often = f"{len(found.sessions)} times" if len(found.sessions) > 1 else "once"
        parts.append(wrapped(f"It was switched on {often} without failure: with "
                             f"{100 * level:.0f} % confidence that goes well at least "
                             f"{percent(found.least_switch_on)} of the times.", 2))  # fmt: skip
    return "\n".join(parts)


def _session(one: Session) -> list[str]:
    parts = [f"\n{one.source}: {one.hours:.2f} h watched"]
    parts += [wrapped(f"- {words}", 2, 2) for words in one.warnings]
    rows = [("", "channel", "values", "verdict", "")]
    rows += [("*" if row.verdict in ("stop", "changed") else "", row.channel.name, str(row.values), row.verdict,
              row.words) for row in one.channels]  # fmt: skip
    rows += [("", name, "0", "cannot tell", "nothing was logged") for name in one.missing]
    parts.append(columns(rows))
    parts += _alarms(one.channels)
    return parts


def _alarms(channels: Sequence[Judged]) -> list[str]:
    looked = [row for row in channels if row.blocks is not None and row.sums is not None]
    if not looked:
        return []
    often = min(row.false_alarm for row in looked)
    return [wrapped(f"Change was looked for by cumulative sums; a steady channel gives a false alarm once in "
                    f"{often:.0f} h on average. A drift or change is worth a look even within limits.", 2)]  # fmt: skip


def proved_text(
    hours: float, failures: int, found: Sequence[Bound], switched: Iterable[tuple[float, float]] = ()
) -> str:
    """What hours and switching on prove, in words."""
    parts = _proofs(hours, failures, found)
    parts += [wrapped(f"Switched on without failure so often, with {100 * level:.0f} % confidence it goes well at "
                      f"least {percent(share)} of the times.", 2) for level, share in switched]  # fmt: skip
    return "\n".join(parts)


def _proofs(hours: float, failures: int, found: Sequence[Bound]) -> list[str]:
    said = "without failure" if not failures else f"with {failures} failure{'s' if failures > 1 else ''}"
    parts = [wrapped(f"{hours:.4g} h {said}, if failures come at an even rate:", 2)]
    parts += [wrapped(f"- with {100 * one.confidence:.0f} % confidence the mean time between failures is at least "
                      f"{one.least:.4g} h, and a day of {DAY:g} h passes without one with at least "
                      f"{percent(one.chance(DAY))};", 4, 2) for one in found]  # fmt: skip
    parts.append(wrapped("no more than that: wear, and what switching on and off does, are not in these hours.", 4))
    return parts
