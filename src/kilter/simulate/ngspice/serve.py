"""The worker process: reads jobs from its standard input, answers on what was its standard output."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping
from typing import Any, BinaryIO

from kilter.measure.errors import KilterError
from kilter.simulate.ngspice import analyses
from kilter.simulate.ngspice.library import Library, find_ngspice
from kilter.simulate.ngspice.pipe import receive, send

JOBS: Mapping[str, Callable[..., object]] = {
    "operating_point": analyses.operating_point,
    "alter_points": analyses.alter_points,
    "ac": analyses.ac,
    "transient": analyses.transient,
    "version": Library.version,
}


def serve(jobs: BinaryIO, answers: BinaryIO) -> None:
    """Answer jobs until the other side closes the pipe."""
    library = Library(find_ngspice())
    while True:
        try:
            name, arguments = receive(jobs)
        except EOFError:
            return
        send(answers, _answer(library, name, arguments))


def _answer(library: Library, name: str, arguments: tuple[Any, ...]) -> tuple[str, object]:
    try:
        return "done", JOBS[name](library, *arguments)
    except KilterError as error:
        return type(error).__name__, (error.doing, error.found, error.allowed, error.do_next)


def _own_output() -> BinaryIO:
    """Keep standard output for answers and send to standard error whatever the library prints by itself."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    return answers


if __name__ == "__main__":
    serve(sys.stdin.buffer, _own_output())
