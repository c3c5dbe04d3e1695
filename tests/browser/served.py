"""`kilter start` as a process of its own."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

BROWSER = os.environ.get("KILTER_TEST_BROWSER", "/usr/bin/chromium")
WAIT_S = 60


@dataclass
class Served:
    """
    A server under way.

    Args:
        home: Its data folder.
        address: What it printed: where to go first, with a code.
        process: The command; the server itself is its child.
    """

    home: Path
    address: str
    process: subprocess.Popen[str]

    @property
    def root(self) -> str:
        """Scheme, name and port."""
        return "/".join(self.address.split("/")[:3])

    def end(self) -> None:
        """As Ctrl-C ends it."""
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(WAIT_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(WAIT_S)
        if self.process.stdout is not None:
            self.process.stdout.close()


def free_port() -> int:
    """One that nothing uses now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def own_environment(home: Path) -> dict[str, str]:
    """The environment without what other tests set, and with this folder."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("KILTER_", "DJANGO_"))}
    return {**kept, "KILTER_HOME": str(home), "PYTHONUNBUFFERED": "1"}


def start(home: Path, *more: str, port: int = 0) -> Served:
    """Starts it and waits for the address it prints."""
    where = ["--home", str(home), "--port", str(port or free_port())]
    command = [sys.executable, "-m", "kilter", "start", "--json", *where]
    log = (home.parent / f"{home.name}.log").open("a")
    process = subprocess.Popen([*command, *more], stdout=subprocess.PIPE, stderr=log, text=True,
                               env=own_environment(home))  # fmt: skip
    log.close()
    assert process.stdout is not None
    line = process.stdout.readline()
    assert line, f"it ended at once: {(home.parent / f'{home.name}.log').read_text()}"
    return Served(home, json.loads(line)["address"], process)
