"""
The `kilter` command: every command is a thin face of a service.

Exit codes: 0 done; 2 something typed or given cannot be used; 3 done, but something stays unanswered. Messages go to
stderr, answers to stdout.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from kilter.measure.errors import KilterError

COMMANDS = (
    "diagnose",
    "bench",
    "predict",
    "check",
    "checklist",
    "compare",
    "proof",
    "thermal",
    "photo",
    "kinds",
    "memory",
    "learn",
    "share",
    "sweep",
    "adaptor",
    "supply",
    "switch_on",
    "hazards",
    "inspection",
    "adapt",
    "options",
    "stock",
    "marking",
    "substitute",
    "recap",
    "allocate",
    "capture",
    "logic",
    "live",
    "soak",
    "display",
    "report",
    "store",
    "start",
    "demo",
)
"""Modules of this folder, in the order of the help."""


def run(arguments: Sequence[str] | None = None) -> int:
    """Runs one command; returns the exit code."""
    _let_any_character_through()
    chosen = parser().parse_args(arguments)
    try:
        code: int = chosen.run(chosen)
        sys.stdout.flush()
    except KilterError as error:
        if chosen.debug:
            raise
        print(error, file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader left; nothing more to say
        return 0
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        return 130
    return code


def parser() -> argparse.ArgumentParser:
    """The parser with all commands."""
    top = argparse.ArgumentParser(
        prog="kilter",
        description="Find the fault in an old electronic object: predict, weigh, ask.",
        epilog="'kilter COMMAND --help' tells what a command takes. Start with 'kilter demo'.",
    )
    commands = top.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for name in COMMANDS:
        module = import_module(f"kilter.cli.{name}")
        one = commands.add_parser(name.replace("_", "-"), help=module.HELP, description=module.DESCRIPTION)
        module.options(one)
        one.add_argument("--debug", action="store_true", help="show where in the program an error arose")
        one.set_defaults(run=module.run)
    return top


def _let_any_character_through() -> None:
    """An old terminal that has no ohm sign gets a question mark instead of an error."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


if __name__ == "__main__":
    sys.exit(run())
