"""A PostgreSQL server of the tests' own: made, started and stopped here."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

OWNER = "postgres"
"""Whom the server runs as where the tests run as root, which it refuses."""


def binaries() -> Path | None:
    """The newest server on this machine; None where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: float(path.parts[-3]))
    if found:
        return found[-1].parent
    other = shutil.which("initdb")
    return Path(other).resolve().parent if other else None


@dataclass
class Server:
    """
    A server that listens on this machine alone, without fear of a power cut.

    Args:
        programs: Folder of its programs.
        folder: Data, socket and log.
        port: Where it listens.
    """

    programs: Path
    folder: Path
    port: int
    made: int = 0
    prepared: str = ""

    def run(self, program: str, *arguments: str) -> str:
        """Runs one of its programs as its owner; what it printed."""
        command = [str(self.programs / program), *arguments]
        if os.geteuid() == 0:
            command = ["runuser", "-u", OWNER, "--", *command]
        done = subprocess.run(command, capture_output=True, text=True, check=False, cwd="/")
        if done.returncode:
            message = f"{program}: {done.stderr or done.stdout}"
            raise RuntimeError(message)
        return done.stdout

    def new_database(self) -> str:
        """Address of an empty database."""
        self.made += 1
        self.ask(f"CREATE DATABASE record{self.made}", "postgres")
        return f"postgresql://keeper@127.0.0.1:{self.port}/record{self.made}"

    def new_record(self, prepare: Callable[[str], None]) -> str:
        """
        Address of an empty record: a copy of one that is prepared once, which is quicker.

        Args:
            prepare: Makes the tables in the database of that address.
        """
        if not self.prepared:
            address = self.new_database()
            prepare(address)
            self.prepared = address.rsplit("/", 1)[-1]
        self.made += 1
        self.ask(f"CREATE DATABASE record{self.made} TEMPLATE {self.prepared}", "postgres")
        return f"postgresql://keeper@127.0.0.1:{self.port}/record{self.made}"

    def ask(self, sql: str, address: str) -> list[tuple[str, ...]]:
        """Rows of an answer, by the server's own client."""
        name = address.rsplit("/", 1)[-1]
        told = self.run("psql", "-X", "-A", "-t", "-F\t", "-v", "ON_ERROR_STOP=1", "-h", str(self.folder), "-p",
                        str(self.port), "-U", "keeper", "-d", name, "-c", sql)  # fmt: skip
        return [tuple(line.split("\t")) for line in told.splitlines()]

    def stop(self) -> None:
        """Ends the server and takes its folder away."""
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-w", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)


def start(programs: Path) -> Server:
    """A new server."""
    folder = Path(tempfile.mkdtemp(prefix="kpg-"))
    if os.geteuid() == 0:
        owner = pwd.getpwnam(OWNER)
        os.chown(folder, owner.pw_uid, owner.pw_gid)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    server = Server(programs, folder, port)
    server.run("initdb", "-D", str(folder / "data"), "-U", "keeper", "-A", "trust", "-E", "UTF8", "--locale=C",
               "--no-sync")  # fmt: skip
    wishes = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=off"
    server.run("pg_ctl", "-D", str(folder / "data"), "-l", str(folder / "log"), "-o", wishes, "-w", "start")
    return server
