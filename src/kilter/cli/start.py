"""`kilter start`: the record's pages and their worker, on this machine unless told otherwise."""

from __future__ import annotations

import argparse
import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

from kilter.measure.errors import BadInput

HELP = "the record and its pages, in a browser"
DESCRIPTION = (
    "Serves the pages on this machine alone and runs the worker for long work. A new record asks its first person for "
    "a login and a password of their own. --demo shows an invented collection. --lan lets others on the network in, "
    "each with a login."
)
PORT, WAIT_S = 8017, 20.0
HERE = "127.0.0.1"


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("--home", metavar="DIR", type=Path, help="data folder, in place of KILTER_HOME")
    parser.add_argument("--port", metavar="N", type=int, default=PORT, help=f"port, {PORT} unless given")
    parser.add_argument("--demo", action="store_true", help="an invented collection, in a folder of its own")
    parser.add_argument("--lan", metavar="NAME", help="let others in: the name or address they will type, such as "
                        "192.168.1.20; what travels is not encrypted")  # fmt: skip
    parser.add_argument("--json", action="store_true", help="print the address as JSON")


def run(chosen: argparse.Namespace) -> int:
    """Serves until it is interrupted; exit code 0."""
    if chosen.demo and chosen.lan:
        raise BadInput("Cannot start", "--demo with --lan", "one of the two",
                       "The demonstration has a door without a password, and stays on this machine.")  # fmt: skip
    if not 1 <= chosen.port <= 65535:
        raise BadInput("Cannot start", f"the port {chosen.port}", "1 to 65535", "Name another port.")
    _check_port("0.0.0.0" if chosen.lan else HERE, chosen.port)
    _prepare(chosen)
    path = _code_for_the_door(chosen)
    host = "0.0.0.0" if chosen.lan else HERE
    os.environ["KILTER_HOSTS"] = ",".join(["localhost", HERE, *([chosen.lan] if chosen.lan else [])])
    told = {name: value for name, value in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"}  # each has its own
    children = [
        subprocess.Popen([sys.executable, "-m", "kilter.web", host, str(chosen.port)], env=told),
        subprocess.Popen([sys.executable, "-m", "kilter.wiring.worker"], env=told),
    ]
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    try:
        _wait_for(chosen.port, children[0])
        address = f"http://{HERE}:{chosen.port}{path}"
        _tell(chosen, address)
        return children[0].wait()
    except KeyboardInterrupt:
        print("Stopped. What was recorded is kept.", file=sys.stderr)
        return 0
    finally:
        for one in children:
            one.terminate()
        for one in children:
            one.wait(10)


def _prepare(chosen: argparse.Namespace) -> None:
    """The record, made or brought up to date; for the demonstration with its collection."""
    if chosen.demo and not chosen.home and not os.environ.get("KILTER_HOME"):
        from kilter.store.place import usual_home

        os.environ["KILTER_HOME"] = str(usual_home().with_name("kilter-demo"))
    if chosen.home:
        os.environ["KILTER_HOME"] = str(chosen.home.absolute())
    from kilter.store.place import place
    from kilter.store.start import start_store

    where = place()
    if chosen.demo and not where.home.exists():
        where.home.mkdir(parents=True)
    start_store()
    from kilter.store.prepare import prepare

    prepare(where)
    if chosen.demo:
        from kilter.store.models import CollectionObject, Person
        from kilter.wiring.demo_collection import demo_person, fill

        if not CollectionObject.objects.exists() and not Person.objects.exists():
            fill(demo_person())
        elif not Person.objects.filter(login="demonstration").exists():
            raise BadInput("Cannot show the demonstration", f"a record of somebody's in {where.home}",
                           "a folder of its own", "Name another folder with --home.")  # fmt: skip


def _code_for_the_door(chosen: argparse.Namespace) -> str:
    """Where to go first: to the demonstration, to the first person's page, or to the collection."""
    from kilter.store.models import Person

    code = secrets.token_urlsafe(16)
    if chosen.demo:
        os.environ["KILTER_HELLO_CODE"] = code
        return f"/hello/{code}/"
    if not Person.objects.exists():
        os.environ["KILTER_FIRST_CODE"] = code
        return f"/first/{code}/"
    return "/"


def _check_port(host: str, port: int) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise BadInput("Cannot start", f"port {port}: {error.strerror}", "a port that nothing uses",
                           "Stop the other program, or name another port with --port.") from None  # fmt: skip


def _wait_for(port: int, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + WAIT_S
    while time.monotonic() < until:
        with socket.socket() as probe:
            probe.settimeout(0.5)
            if probe.connect_ex((HERE, port)) == 0:
                return
        if server.poll() is not None:
            break
        time.sleep(0.05)
    raise BadInput("Cannot start", "a server that ended at once", "a server that answers", "Read what it said above.")


def _tell(chosen: argparse.Namespace, address: str) -> None:
    if chosen.json:
        print(json.dumps({"address": address, "home": os.environ.get("KILTER_HOME", "")}), flush=True)
        return
    print(f"Kilter is at {address}", flush=True)
    if chosen.lan:
        print(f"On the network: http://{chosen.lan}:{chosen.port}/ (not encrypted)", flush=True)
    print("Ctrl-C stops it.", flush=True)
