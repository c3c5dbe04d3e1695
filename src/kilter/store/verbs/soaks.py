"""Plan the soak of a visit, and record what its logs told; a later row takes the place of an earlier one."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantities
from kilter.planning.soak.channel import VERDICTS
from kilter.planning.soak.schedule import MOST_HOURS
from kilter.store.journal import now, write
from kilter.store.models import Filing, Person, SoakFinding, SoakPlan, Visit
from kilter.store.models.attachment import SOAK_LOG
from kilter.store.verb import one_of, said, verb
from kilter.store.verbs.visits import RECORD

DOING, FINDING = "Cannot keep the plan of the soak", "Cannot record what the soak told"
MOST_CHANNELS, MOST_FAILURES = 100, 10_000


@verb(RECORD)
def plan_soak_of(
    actor: Person,
    visit: Visit,
    hours: float,
    channels: Sequence[Mapping[str, Any]],
    *,
    state: str = "",
    words: str = "",
    supersedes: SoakPlan | None = None,
) -> SoakPlan:
    """
    Makes a plan, or changes it by a new one.

    Args:
        actor: Who plans.
        visit: An open one.
        hours: Planned. [h]
        channels: As in `SoakPlan.channels`.
        state: Of the object while it runs.
        words: Why.
        supersedes: The plan that stood until now; None for the first.

    Raises:
        BadInput: The visit is closed, another plan stands than the one that was looked at, or a field does not do.
    """
    _open(visit, DOING)
    if not 0 < hours <= MOST_HOURS:
        raise BadInput(DOING, f"{hours:g} h", f"above 0, up to {MOST_HOURS:.0f} h", "Choose a length in hours.")
    stands = standing_plan(visit)
    if (stands and stands.pk) != (supersedes and supersedes.pk):
        raise BadInput(DOING, "another plan than the one that was looked at", "the one that stands, superseded once",
                       "Look at what stands now.")  # fmt: skip
    row = SoakPlan.objects.create(
        visit=visit, hours=float(hours), state=said(state, "state", 120, DOING), channels=_channels(channels),
        words=said(words, "reason", 2000, DOING), supersedes=supersedes, at=now(), who=actor,
    )  # fmt: skip
    write(actor.key, RECORD, f"object {visit.object.number}", rows=[row], why=row.words)
    return row


@verb(RECORD)
def record_soak_finding(
    actor: Person,
    plan: SoakPlan,
    logs: Sequence[Filing],
    told: Mapping[str, Any],
    *,
    failures: int = 0,
    words: str = "",
    supersedes: SoakFinding | None = None,
) -> SoakFinding:
    """
    Records what logs told, held against a plan.

    Args:
        actor: Who has them judged.
        plan: The one that stands.
        logs: Files of that visit, one for each time the object was switched on.
        told: What was found, plain data.
        failures: That no channel shows.
        words: Of the person.
        supersedes: The finding that stood until now; None for the first.

    Raises:
        BadInput: The visit is closed, the plan or the finding does not stand any more, or a log is none of the visit.
    """
    visit = plan.visit
    _open(visit, FINDING)
    stands, finding = standing_plan(visit), standing_finding(visit)
    if stands is None or stands.pk != plan.pk:
        raise BadInput(FINDING, "a plan that was changed meanwhile", "the plan that stands", "Look at it, judge anew.")
    if (finding and finding.pk) != (supersedes and supersedes.pk):
        raise BadInput(FINDING, "another finding than the one that was looked at", "the one that stands",
                       "Look at what stands now.")  # fmt: skip
    if not logs or any(one.visit_id != visit.pk or one.kind != SOAK_LOG for one in logs):
        raise BadInput(FINDING, "no log, or one of another visit", "logs that were brought to this visit",
                       "Bring a log first.")  # fmt: skip
    if not 0 <= failures <= MOST_FAILURES:
        raise BadInput(FINDING, f"{failures} failures", f"0 to {MOST_FAILURES}", "Count them again.")
    row = SoakFinding.objects.create(
        plan=plan, logs=[{"name": one.name, "sha256": one.attachment.sha256} for one in logs], failures=failures,
        verdict=one_of(str(told.get("verdict", "")), "verdict", VERDICTS, FINDING), told=dict(told),
        words=said(words, "words", 4000, FINDING), supersedes=supersedes, at=now(), who=actor,
    )  # fmt: skip
    evidence = [one.attachment.sha256 for one in logs]
    write(actor.key, RECORD, f"object {visit.object.number}", rows=[row], why=row.words, evidence=evidence)
    return row


def standing_plan(visit: Visit) -> SoakPlan | None:
    """The plan that stands; None where nobody planned a soak."""
    rows = SoakPlan.objects.filter(visit=visit, superseded_by__isnull=True)
    return rows.select_related("who__personal", "visit__object").first()


def standing_finding(visit: Visit) -> SoakFinding | None:
    """What was recorded last of the visit's soak; None where nothing was."""
    rows = SoakFinding.objects.filter(plan__visit=visit, superseded_by__isnull=True)
    return rows.select_related("who__personal", "plan").first()


def soak_logs(visit: Visit) -> list[Filing]:
    """Logs that were brought to a visit and not taken away, in the order in which they came."""
    rows = Filing.objects.standing().filter(visit=visit, kind=SOAK_LOG).order_by("pk")
    return list(rows.select_related("attachment"))


def _open(visit: Visit, doing: str) -> None:
    if not visit.is_open():
        raise BadInput(doing, "a visit that is closed", "an open visit", "Reopen it, or open a new one.")


def _channels(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    if not 0 < len(rows) <= MOST_CHANNELS:
        raise BadInput(DOING, f"{len(rows)} channels", f"1 to {MOST_CHANNELS}", "Name what is logged.")
    found = [_channel(one) for one in rows]
    names = [one["name"].casefold() for one in found]
    if len(set(names)) < len(names):
        twice = next(one for one in names if names.count(one) > 1)
        raise BadInput(DOING, f"the channel '{twice}' twice", "each name once", "Name them apart.")
    return found


def _channel(row: Mapping[str, Any]) -> dict[str, Any]:
    name = said(row.get("name"), "channel", 60, DOING, empty=False)
    key = one_of(str(row.get("quantity") or ""), f"quantity of {name}", ("", *quantities()), DOING)
    ends: dict[str, float | None] = {}
    for side in ("low", "high"):
        end = row.get(side)
        ends[side] = None if end is None else float(end)
        if end is not None and not math.isfinite(float(end)):
            raise BadInput(DOING, f"a limit of {name} that is no number", "a number, or nothing", "Type it anew.")
    low, high = ends["low"], ends["high"]
    if low is not None and high is not None and low >= high:
        raise BadInput(DOING, f"limits {low:g} and {high:g} of {name}", "a low limit below the high one",
                       "Exchange or correct them.")  # fmt: skip
    return {"name": name, "quantity": key, "low": low, "high": high,
            "why": said(row.get("why"), f"reason of {name}", 300, DOING)}  # fmt: skip
