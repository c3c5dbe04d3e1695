"""ngspice in a process of its own, so that neither a crash, nor a hang, nor its memory growth reaches us."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from threading import Timer
from time import monotonic
from typing import Any, BinaryIO, cast

import kilter
from kilter.measure.errors import BadInput, KilterError
from kilter.simulate.ngspice.analyses import Alteration, Point
from kilter.simulate.ngspice.library import NotSettled, Numbers, find_ngspice
from kilter.simulate.ngspice.pipe import receive, send
from kilter.simulate.ngspice.settings import worker_limits

_ERRORS: dict[str, type[KilterError]] = {"BadInput": BadInput, "NotSettled": NotSettled}


class _Ended(NotSettled):
    """The process ended by itself, or was ended by somebody else."""


class NgspiceWorker:
    """
    One worker; use it in a 'with'.

    Args:
        timeout_s: Time limit of one job, the data file's unless given. [s]
        analyses_per_life: Analyses after which the process is replaced by a fresh one.

    Raises:
        NotAvailable: On entering, when the library is absent.

    Every method raises BadInput for a netlist that ngspice does not take as it stands and NotSettled for an analysis
    that it gave up, that ran out of time or that killed the process; the next job gets a fresh process then.
    """

    def __init__(self, *, timeout_s: float | None = None, analyses_per_life: int | None = None) -> None:
        limits = worker_limits()
        self.timeout_s = limits["timeout_s"] if timeout_s is None else timeout_s
        self.analyses_per_life = int(limits["analyses_per_life"] if analyses_per_life is None else analyses_per_life)
        self._process: subprocess.Popen[bytes] | None = None
        self._analyses = 0

    def __enter__(self) -> NgspiceWorker:
        find_ngspice()
        self._start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop()

    @property
    def process_id(self) -> int | None:
        """Of the worker process; None when there is none."""
        return self._process.pid if self._process else None

    def version(self) -> str:
        """Name and version of the library, such as 'ngspice-39'."""
        return cast(str, self._ask(0, "version"))

    def operating_point(self, netlist: str) -> Point:
        """DC solution: node to volts, and 'source#branch' to the amperes that flow into its positive end."""
        return cast(Point, self._ask(1, "operating_point", netlist))

    def alter_points(self, netlist: str, points: Sequence[Sequence[Alteration]]) -> list[Point | None]:
        """
        DC solutions of one netlist with values altered; None where ngspice found none.

        Args:
            netlist: Loaded once.
            points: Per solution its alterations: ('alter', element, value), ('alter', element, parameter, value) or
                ('altermod', model, parameter, value). They stay until altered again.
        """
        return cast("list[Point | None]", self._ask(len(points), "alter_points", netlist, points))

    def ac(self, netlist: str, frequencies: Sequence[float]) -> dict[str, Numbers]:
        """Small-signal response: node to complex volts, shape (len(frequencies),). Frequencies in hertz."""
        return cast("dict[str, Numbers]", self._ask(len(frequencies), "ac", netlist, list(frequencies)))

    def transient(
        self, netlist: str, *, step: float, stop: float, max_step: float | None = None, from_initial: bool = False
    ) -> dict[str, Numbers]:
        """
        Course in time: 'time' and every node by name.

        Args:
            netlist: The circuit.
            step: Suggested step. [s]
            stop: End. [s]
            max_step: Largest step, None for ngspice's own choice. [s]
            from_initial: Start from the netlist's initial conditions instead of the operating point.
        """
        return cast("dict[str, Numbers]", self._ask(1, "transient", netlist, step, stop, max_step, from_initial))

    def _ask(self, analyses: int, name: str, *arguments: Any) -> object:
        try:
            outcome, answer = self._exchange(analyses, (name, arguments))
        except _Ended:  # perhaps it was dead before it saw the job: a fresh process may have one try
            outcome, answer = self._exchange(analyses, (name, arguments))
        if outcome == "done":
            return answer
        raise _ERRORS[outcome](*answer)

    def _exchange(self, analyses: int, job: object) -> tuple[str, Any]:
        process = self._ready(analyses)
        started = monotonic()
        stopwatch = Timer(self.timeout_s, process.kill)
        stopwatch.start()
        try:
            send(cast(BinaryIO, process.stdin), job)
            return cast("tuple[str, Any]", receive(cast(BinaryIO, process.stdout)))
        except (OSError, EOFError):
            code = self._stop()
            if monotonic() - started >= self.timeout_s:
                raise _lost(NotSettled, f"no answer after {self.timeout_s:g} s") from None
            raise _lost(_Ended, f"that its process ended with code {code}") from None
        finally:
            stopwatch.cancel()

    def _ready(self, analyses: int) -> subprocess.Popen[bytes]:
        """The process for the next job: the present one, or a fresh one when that is dead or has had its share."""
        worn = self._analyses + analyses > self.analyses_per_life
        if self._process is None or self._process.poll() is not None or (worn and self._analyses):
            self._start()
        self._analyses += analyses
        return cast("subprocess.Popen[bytes]", self._process)

    def _start(self) -> None:
        self._stop()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "kilter.simulate.ngspice.serve"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": _search_path()},
        )
        self._analyses = 0

    def _stop(self) -> int | None:
        """End the process, if there is one, and say the code it ended with."""
        process, self._process = self._process, None
        if process is None:
            return None
        process.kill()
        for stream in (process.stdin, process.stdout):
            _close(cast(BinaryIO, stream))
        return process.wait()


def _lost(kind: type[NotSettled], found: str) -> NotSettled:
    return kind(
        "Cannot finish a job in the ngspice worker",
        found,
        "jobs that end within the time limit and do not bring the library down",
        "Give it a smaller job; the next one gets a fresh process.",
    )


def _close(stream: BinaryIO) -> None:
    try:
        stream.close()
    except OSError:  # what was still to be written has no reader any more
        return


def _search_path() -> str:
    """Where the worker finds this package, wherever we found it."""
    own = str(Path(kilter.__file__).resolve().parent.parent)
    return os.pathsep.join(filter(None, [own, os.environ.get("PYTHONPATH", "")]))
