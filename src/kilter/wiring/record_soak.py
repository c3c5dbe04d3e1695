"""The soak of a visit of the record: its plan, its logs read, judged and drawn."""

from __future__ import annotations

import hashlib
import math
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from threading import Lock
from typing import Any

from kilter.importers.meter_log import read_meter_logs
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.planning.numbers import number
from kilter.planning.soak.channel import Channel
from kilter.services.judge_soak import SoakVerdict, judge_soak
from kilter.services.plan_soak import SoakPlan as Proposed
from kilter.services.plan_soak import plan_soak
from kilter.services.tell_soak import told_soak
from kilter.signals.meter_log import MeterLog
from kilter.simulate.chain import usual_chain
from kilter.simulate.circuit.fallback import Fallback
from kilter.store.models import Filing, Job, SoakPlan, Visit
from kilter.store.models.job import DONE
from kilter.store.verbs.files import file_store
from kilter.store.verbs.soaks import soak_logs, standing_plan
from kilter.wiring.record_bench import board_of

DOING = "Cannot judge the soak"
JOB = "soak verdict"
KEPT = 4
"""Soaks whose logs stay read between a page and its pictures."""


@dataclass(frozen=True)
class Read:
    """A soak judged, with the columns of each of its logs."""

    found: SoakVerdict
    logs: tuple[tuple[MeterLog, ...], ...]


_read: OrderedDict[str, Read] = OrderedDict()
_turn = Lock()


def proposed_for(visit: Visit, hours: float, state: str = "") -> Proposed:
    """
    A plan made from the visit's board.

    Raises:
        BadInput: The visit has no board, or the board has no such state.
    """
    edition = visit.board_now()
    if edition is None:
        raise BadInput("Cannot plan a soak", "a visit without a board", "a visit with a board",
                       "Type the channels, or give the visit a board.")  # fmt: skip
    board = board_of(edition)
    with Fallback() as fallback:
        return plan_soak(board, usual_chain(board, fallback=fallback), hours, state)


def rows_of(channels: Sequence[Channel]) -> list[dict[str, Any]]:
    """Channels as the record keeps them."""
    return [{"name": one.name, "quantity": one.quantity, "low": one.low if math.isfinite(one.low) else None,
             "high": one.high if math.isfinite(one.high) else None, "why": one.why} for one in channels]  # fmt: skip


def channels_of(plan: SoakPlan) -> tuple[Channel, ...]:
    """The plan's channels as the services know them."""
    return tuple(
        Channel(one["name"], one["quantity"], quantity(one["quantity"]).unit if one["quantity"] else "",
                -math.inf if one["low"] is None else one["low"], math.inf if one["high"] is None else one["high"],
                one["why"])
        for one in plan.channels
    )  # fmt: skip


def is_long(logs: Sequence[Filing]) -> bool:
    """Whether judging takes so long that a worker does it."""
    return bool(sum(one.attachment.size for one in logs) > number("soak", "at_once"))


def key_of(plan: SoakPlan, logs: Sequence[Filing], failures: int) -> str:
    """Stands for what was judged."""
    words = [str(plan.pk), str(failures), *(one.attachment.sha256 for one in logs)]
    return hashlib.sha256(" ".join(words).encode()).hexdigest()


def judged(plan: SoakPlan, logs: Sequence[Filing], failures: int = 0) -> Read:
    """
    The logs judged by the plan; the last few are remembered.

    Raises:
        BadInput: A log cannot be read, or holds no hours.
    """
    key = key_of(plan, logs, failures)
    with _turn:
        if key not in _read:
            columns = tuple(_columns(one) for one in logs)
            _read[key] = Read(judge_soak(channels_of(plan), columns, failures), columns)
            while len(_read) > KEPT:
                _read.popitem(last=False)
        _read.move_to_end(key)
        return _read[key]


def _columns(filing: Filing) -> tuple[MeterLog, ...]:
    """A log under the name it came with."""
    path = file_store().path(filing.attachment.sha256)
    try:
        found = read_meter_logs(path)
    except BadInput as error:
        parts = (error.doing, error.found, error.allowed, error.do_next)
        raise BadInput(*(one.replace(path.name, filing.name) for one in parts)) from None
    return tuple(replace(one, source=one.source.replace(path.name, filing.name, 1)) for one in found)


def worked_out(wishes: dict[str, Any], told: Callable[[float, str], None]) -> dict[str, Any]:
    """
    A long soak judged by the worker.

    Args:
        wishes: 'visit', the visit's key, and perhaps 'failures'.
        told: Hears how far it is; raises where it is to stop.
    """
    visit = Visit.objects.select_related("object").get(pk=wishes["visit"])
    failures, plan, logs = int(wishes.get("failures", 0)), standing_plan(visit), soak_logs(visit)
    if plan is None or not logs:
        raise BadInput(DOING, "no plan or no log", "a plan and one log or more", "Make the plan and bring the log.")
    columns = []
    for place, one in enumerate(logs):
        told(place / (len(logs) + 1), one.name)
        columns.append(_columns(one))
    told(len(logs) / (len(logs) + 1), "judging")
    found = judge_soak(channels_of(plan), columns, failures)
    return {"key": key_of(plan, logs, failures), "failures": failures, "object": visit.object_id,
            "number": visit.number, "soak": told_soak(found)}  # fmt: skip


def of_the_worker(visit: Visit, plan: SoakPlan, logs: Sequence[Filing]) -> dict[str, Any] | None:
    """What the worker found of just these logs and this plan; None where it did not yet."""
    for job in Job.objects.filter(kind=JOB, state=DONE, wishes__visit=visit.pk).order_by("-pk")[:KEPT]:
        result: dict[str, Any] = job.result or {}
        if result.get("key") == key_of(plan, logs, int(result.get("failures", 0))):
            return result
    return None
