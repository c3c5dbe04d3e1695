"""
The server is killed in mid-write, twenty times: what it answered for is there, and the record is whole.

What has to hold is what durability means in any textbook on databases: what was acknowledged survives. SQLite's own
documentation tells when it keeps that promise (write-ahead log, synchronous=FULL).
"""

from __future__ import annotations

import json
import os
import random
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.client import HTTPException
from http.cookiejar import CookieJar
from pathlib import Path

import pytest

KILLS, HANDS = 20, 4
LOGIN, PASSWORD = "me", "eleven teal kettles"
UNDER_WAY_S = (0.05, 0.5)
"""How long people write before the next kill."""


class Stays(urllib.request.HTTPRedirectHandler):
    """The answer to a form is looked at, not followed."""

    def redirect_request(self, *_: object) -> None:
        return None


@dataclass
class Hand:
    """Somebody who writes, with a session of their own; `kept` is what the server answered for."""

    root: str
    name: int
    cookies: CookieJar = field(default_factory=CookieJar)
    kept: list[str] = field(default_factory=list)
    sent: int = 0

    def ask(self, path: str, told: dict[str, str] | None = None) -> tuple[int, str]:
        """Status and text of an answer."""
        opener = urllib.request.build_opener(Stays(), urllib.request.HTTPCookieProcessor(self.cookies))
        body = urllib.parse.urlencode(told).encode() if told is not None else None
        try:
            with opener.open(self.root + path, body, timeout=30) as answer:
                return answer.status, answer.read().decode()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.read().decode()

    def send(self, path: str, told: dict[str, str]) -> int:
        """Fills the form of a page in and sends it."""
        page = self.ask(path)[1]
        found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
        assert found is not None, page[:300]
        return self.ask(path, {**told, "csrfmiddlewaretoken": found[1]})[0]

    def write(self, about: str) -> None:
        """Writes until the server is gone."""
        while True:
            self.sent += 1
            text = f"hand {self.name} writes {self.sent}"
            try:
                status = self.send(f"{about}say/", {"kind": "note", "text": text})
            except (OSError, HTTPException):  # refused, reset or cut short: nothing was answered for
                return
            if status == 302:
                self.kept.append(text)


@dataclass
class Server:
    """The pages as a process, killed and started again on the same port."""

    home: Path
    port: int
    process: subprocess.Popen[bytes] | None = None

    @property
    def environment(self) -> dict[str, str]:
        """Without what other tests set."""
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("KILTER_", "DJANGO_"))}
        return {**kept, "KILTER_HOME": str(self.home)}

    def command(self, *words: str, typed: str = "") -> subprocess.CompletedProcess[str]:
        """A command of the program on this record."""
        return subprocess.run([sys.executable, "-m", "kilter", *words], input=typed, env=self.environment, text=True,
                              capture_output=True, check=False)  # fmt: skip

    def start(self) -> None:
        """Starts it and waits until it answers."""
        command = [sys.executable, "-m", "kilter.web", "127.0.0.1", str(self.port)]
        self.process = subprocess.Popen(command, env=self.environment, stderr=subprocess.DEVNULL)
        until = time.monotonic() + 60
        while time.monotonic() < until:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.02)
        raise AssertionError("the server does not answer")

    def kill(self) -> None:
        """At once, as a power cut would end it but for what the system itself still writes."""
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """A record with one person of all roles."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        made = Server(tmp_path / "home", probe.getsockname()[1])
    assert made.command("store", "init").returncode == 0
    roles = [word for role in ("administrator", "recorder", "registrar") for word in ("--role", role)]
    added = made.command("store", "person", "add", LOGIN, *roles, "--password-stdin", typed=PASSWORD + "\n")
    assert added.returncode == 0, added.stderr
    made.start()
    yield made
    made.kill()


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no such signal")
def test_killed_in_mid_write(server: Server) -> None:
    dice, root = random.Random(20), f"http://127.0.0.1:{server.port}"
    hands = [Hand(root, one) for one in range(HANDS)]
    for one in hands:
        assert one.send("/door/", {"login": LOGIN, "password": PASSWORD, "next": ""}) == 302
    assert hands[0].send("/object/new/", {"number": "HC 1", "name": "Lamp", "state": "waiting"}) == 302
    for _ in range(KILLS):
        writing = [threading.Thread(target=one.write, args=("/object/1/",)) for one in hands]
        for one in writing:
            one.start()
        time.sleep(dice.uniform(*UNDER_WAY_S))
        server.kill()
        for one in writing:
            one.join()
        server.start()
        assert hands[0].ask("/object/1/say/")[0] == 200  # the first page after a start takes its time
    there = hands[0].ask("/object/1/history/")[1]
    kept = [text for one in hands for text in one.kept]
    lost = [text for text in kept if not re.search(rf"{text}\b", there)]
    assert lost == []
    assert len(kept) > 3 * KILLS, "hardly anything was written, so nothing was tried"
    written = len(set(re.findall(r"hand \d+ writes \d+", there)))
    assert len(kept) <= written <= sum(one.sent for one in hands)
    assert len(re.findall(r"hand \d+ writes \d+", there)) == written, "something was written twice"
    checked = server.command("store", "check", "--json")
    assert checked.returncode == 0, checked.stdout + checked.stderr
    assert json.loads(checked.stdout)["wrong"] == []
