"""Commands one after another in a process of their own, on a data folder of their own."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kilter.store.place import DATABASE_FILE, KEY_FILE, place

CODE = """
import contextlib, io, json, sys
import kilter.cli.main
kilter.cli.main.COMMANDS = ("store",)  # the others take their time
for typed, arguments in json.loads(sys.argv[1]):
    out, err = io.StringIO(), io.StringIO()
    sys.stdin = io.StringIO(typed)
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = kilter.cli.main.run(arguments)
        except SystemExit as left:
            code = left.code
    print(json.dumps([code, out.getvalue(), err.getvalue()]))
"""


@dataclass(frozen=True)
class Said:
    """What a command left behind."""

    code: int
    out: str
    err: str

    def json(self) -> Any:
        """Its answer as plain data."""
        return json.loads(self.out)


def sit(home: Path, *commands: str | tuple[str, str], database: str = "") -> list[Said]:
    """
    Runs commands, each as one would type it after `kilter store`; with a second text, that is what stdin holds.

    Args:
        home: The data folder.
        commands: In order.
        database: Address of another database.
    """
    typed = [("", one) if isinstance(one, str) else (one[1], one[0]) for one in commands]
    told = json.dumps([(text, ["store", *line.split()]) for text, line in typed])
    around = surroundings(home, database)
    done = subprocess.run([sys.executable, "-c", CODE, told], capture_output=True, text=True, check=False, env=around)
    assert done.returncode == 0, done.stderr
    return [Said(*json.loads(line)) for line in done.stdout.splitlines()]


def new_record(home: Path) -> Path:
    """
    A data folder like one that `init` has just made: a copy of the tests' own, which is quicker.

    Args:
        home: Must not be there yet.
    """
    home.mkdir(parents=True)
    source, copy = sqlite3.connect(place().home / DATABASE_FILE), sqlite3.connect(home / DATABASE_FILE)
    source.backup(copy)
    copy.execute("PRAGMA journal_mode=WAL")
    for one in (source, copy):
        one.close()
    shutil.copy(place().home / KEY_FILE, home)
    return home


def surroundings(home: Path, database: str = "") -> dict[str, str]:
    """The environment of a process that works on that record."""
    kept = {name: value for name, value in os.environ.items()
            if name not in ("KILTER_DATABASE", "KILTER_TEST_DATABASE", "DJANGO_SETTINGS_MODULE")}  # fmt: skip
    return {**kept, "KILTER_HOME": str(home), **({"KILTER_DATABASE": database} if database else {})}
