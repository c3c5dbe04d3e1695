"""The worker: takes up long work from the record's table, one piece at a time, until it is told to end."""

from __future__ import annotations

import os
import signal
import socket
import sys
import time
from collections.abc import Callable
from typing import Any

from kilter.measure.errors import KilterError
from kilter.store.start import start_store

FORECAST, SHARE_OUT = "display forecast", "spares and donors shared out"
CURES = "cures side by side"
ON_VISITS = ("thorough diagnosis", "soak verdict", CURES)
"""Kinds of work that are asked for a visit."""
PAUSE_S = 1.0
SHOWN_STEPS = 8
LEARNING = "learning from visits"


class Stopped(Exception):
    """Somebody asked the work to stop."""


def thorough_diagnosis(wishes: dict[str, Any], told: Callable[[float, str], None]) -> dict[str, Any]:
    """
    A diagnosis that searches until little is left out, in growing steps.

    Args:
        wishes: 'visit', the visit's key.
        told: Hears how far it is; raises Stopped.
    """
    from kilter.diagnose.enumerate import Limits
    from kilter.services.answer import answer
    from kilter.store.models import Visit
    from kilter.store.verbs.visits import log_of
    from kilter.wiring.diagnosers import diagnoser
    from kilter.wiring.record_bench import board_of, history_of, with_history
    from kilter.wiring.record_experience import at_bench

    visit = Visit.objects.select_related("object", "board_edition").get(pk=wishes["visit"])
    edition = visit.board_now()
    assert edition is not None
    board, log = with_history(board_of(edition), history_of(visit)), log_of(visit)
    told(0.05, "the board")
    whole, found = Limits().work_limit, None
    learned, checks = at_bench(board, visit), log.power_checks
    with diagnoser(
        board, not_working=visit.not_working, power_checks=checks, odds=learned.odds, effort=learned.effort
    ) as weigher:
        for step in range(1, SHOWN_STEPS + 1):
            weigher.limits = limits = Limits(work_limit=max(1, whole >> (SHOWN_STEPS - step)))
            found = weigher.diagnose(log.readings())
            told(step / SHOWN_STEPS, f"{limits.work_limit:,} fault sets")
    assert found is not None
    return answer(found)


def learning(wishes: dict[str, Any], told: Callable[[float, str], None]) -> dict[str, Any]:
    """
    Learning from every closed visit that is due, for the person who asked.

    Args:
        wishes: 'who', that person's key in the database.
        told: Hears how far it is; raises Stopped.
    """
    from kilter.store.models import Person
    from kilter.wiring.record_lessons import learn_from_record

    return learn_from_record(Person.objects.get(pk=wishes["who"]), told)


def display_forecast(wishes: dict[str, Any], told: Callable[[float, str], None]) -> dict[str, Any]:
    """
    Failures and spares of everything on display.

    Args:
        wishes: 'years', how far to look ahead.
        told: Hears how far it is; raises Stopped.
    """
    from kilter.store.journal import now
    from kilter.wiring.display_dates import forecast_record

    found: dict[str, Any] = forecast_record(float(wishes["years"]), now().date(), told)
    return found


def soak_verdict(wishes: dict[str, Any], told: Callable[[float, str], None]) -> dict[str, Any]:
    """
    A soak judged whose logs are long.

    Args:
        wishes: 'visit', the visit's key, and perhaps 'failures' that no channel shows.
        told: Hears how far it is; raises Stopped.
    """
    from kilter.wiring.record_soak import worked_out

    return worked_out(wishes, told)


def cures(wishes: dict[str, Any], told: Callable[[float, str], None]) -> dict[str, Any]:
    """
    What can be done about the suspects of a visit, side by side.

    Args:
        wishes: 'visit', the visit's key.
        told: Hears how far it is; raises Stopped.
    """
    from kilter.wiring.record_cures import worked_out

    return worked_out(wishes, told)


def parts_shared_out(wishes: dict[str, Any], told: Callable[[float, str], None]) -> dict[str, Any]:
    """
    Spares and donors shared out, with reasons.

    Args:
        wishes: As `kilter.wiring.share_parts.share_parts` takes them.
        told: Hears how far it is; raises Stopped.
    """
    from kilter.wiring.share_parts import share_parts

    return share_parts(wishes, told)


HANDLERS: dict[str, Callable[[dict[str, Any], Callable[[float, str], None]], dict[str, Any]]] = {
    "thorough diagnosis": thorough_diagnosis,
    "soak verdict": soak_verdict,
    CURES: cures,
    FORECAST: display_forecast,
    SHARE_OUT: parts_shared_out,
    LEARNING: learning,
}


def work_off_one(name: str) -> bool:
    """Does the next piece of work, if there is one; tells whether there was."""
    from kilter.store.verbs.jobs import fail, finish, stopped, take_next, tell

    job = take_next(name)
    if job is None:
        return False

    def told(share: float, words: str) -> None:
        if not tell(job, share, words):
            raise Stopped

    try:
        handler = HANDLERS.get(job.kind)
        if handler is None:
            fail(job, f"nobody here can do '{job.kind}'")
        else:
            finish(job, handler(job.wishes, told))
    except Stopped:
        stopped(job)
    except KilterError as error:
        fail(job, str(error))
    except Exception as error:  # noqa: BLE001  (whatever a handler meets, the next piece of work goes on)
        fail(job, f"{type(error).__name__}: {error}")
    return True


def main() -> int:
    """Works until the process is told to end, or the one that started it has gone."""
    start_store()
    name, parent = f"{socket.gethostname()}:{os.getpid()}", os.getppid()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    while os.getppid() == parent:
        try:
            busy = work_off_one(name)
        except KilterError as error:
            print(error, file=sys.stderr)
            busy = False
        if not busy:
            time.sleep(PAUSE_S)
    return 0


if __name__ == "__main__":
    sys.exit(main())
