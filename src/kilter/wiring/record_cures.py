"""Cures side by side on the record: worked out at the bench's desk, or by the worker where the board is large."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from typing import Any

from kilter.measure.tables import table
from kilter.services.bench import BenchSession
from kilter.services.weigh_options import weigh_options
from kilter.store.models import Job, Visit
from kilter.store.models.job import DONE, RUNNING, WAITING
from kilter.store.verbs.visits import log_of
from kilter.wiring.record_bench import basis_of, board_of, history_of, weigher_of, with_history
from kilter.wiring.record_experience import at_bench

JOB = "cures side by side"
STEPS = (0.25, 0.5)
"""Shares of the search's work after which the worker tells how far it is; the whole search comes last."""

Told = dict[str, Any]


def takes_long(session: BenchSession) -> bool:
    """Whether the readings of this visit still have to be weighed, and on a large board."""
    return not session.is_weighed() and len(session.diagnoser.board.parts) >= int(table("web")["cures"]["parts"])


def cures_at(session: BenchSession) -> Told:
    """The ranking as plain data, as `kilter options --json` prints it."""
    return weigh_options(session.diagnosis()).plain()


def cures_found(visit: Visit) -> Told | None:
    """What the worker found, where it rests on the readings, the board and whatever else counts now."""
    for job in _jobs(visit).filter(state=DONE).order_by("-pk")[:1]:
        found: Told = job.result
        return found["cures"] if found["mark"] == _mark(visit) else None
    return None


def at_work(visit: Visit) -> Job | None:
    """The job that works on it now, or waits to."""
    found: Job | None = _jobs(visit).filter(state__in=(WAITING, RUNNING)).order_by("-pk").first()
    return found


def worked_out(wishes: Told, told: Callable[[float, str], None]) -> Told:
    """
    The worker's part: the same diagnosis as at the bench, then the cures.

    Args:
        wishes: 'visit', the visit's key.
        told: Hears how far it is; ends the work by raising.
    """
    visit = Visit.objects.select_related("object", "board_edition").get(pk=wishes["visit"])
    edition = visit.board_now()
    assert edition is not None
    mark, log = _mark(visit), log_of(visit)
    board = with_history(board_of(edition), history_of(visit))
    told(0.05, "the board")
    with weigher_of(board, visit, at_bench(board, visit)) as weigher:
        weigher.power_checks = log.power_checks
        whole = weigher.limits
        assert whole is not None
        for share in STEPS:
            weigher.limits = replace(whole, work_limit=max(1, int(share * whole.work_limit)))
            weigher.posterior(log.readings())
            told(share, f"{weigher.limits.work_limit:,} fault sets")
        weigher.limits = whole
        diagnosis = weigher.diagnose(log.readings())
        told(0.9, f"{whole.work_limit:,} fault sets")
        cures = weigh_options(diagnosis).plain()
    return {"cures": cures, "mark": mark, "object": visit.object_id, "number": visit.number}


def _jobs(visit: Visit) -> Any:
    return Job.objects.filter(kind=JOB, wishes__visit=visit.pk)


def _mark(visit: Visit) -> str:
    """Changes with everything that the cures rest on; the log of a visit only grows."""
    edition = visit.board_now()
    assert edition is not None
    resting_on = (basis_of(visit, edition, history_of(visit)), len(log_of(visit).entries))
    return sha256(repr(resting_on).encode()).hexdigest()
