"""Many writers at once, and writers that die: nothing that was acknowledged is lost, and the journal's chain holds."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from drill import drill
from servers import Server

WRITERS, READINGS, KILLS = 8, 200, 20
SQL = (
    "SELECT visit_id, count(*), count(DISTINCT value), min(value), max(value), max(number) FROM store_visitentry "
    "GROUP BY visit_id"
)


def counted(home: Path, address: str, request: pytest.FixtureRequest) -> list[tuple[float, ...]]:
    """The engine's own answer, by its own client, past Kilter."""
    if address.startswith("sqlite"):
        raw = sqlite3.connect(home / "record.sqlite3")
        rows = raw.execute(SQL).fetchall()
        raw.close()
        return [tuple(map(float, row)) for row in rows]
    server: Server = request.getfixturevalue("server")
    return [tuple(map(float, row)) for row in server.ask(SQL, address)]


def test_eight_at_once(home: Path, address: str, request: pytest.FixtureRequest) -> None:
    told = drill(home, address, "many", WRITERS, READINGS)
    assert told["codes"] == [0] * WRITERS
    assert told["wrong"] == []
    rows = counted(home, address, request)
    assert [row[1:] for row in rows] == [(READINGS, READINGS, 0, READINGS - 1, READINGS)] * WRITERS


def test_killed_in_the_midst(home: Path, address: str) -> None:
    """SIGKILL takes the process, not the machine: what a power cut leaves depends on the disk; not tried here."""
    told = drill(home, address, "killed", KILLS, 7)
    assert told["lost"] == []
    assert told["acknowledged"] >= KILLS
    assert 0 <= told["beyond"] <= KILLS  # a last one may be there that its writer could not tell of any more
    assert told["wrong"] == []


def test_workers_share_the_queue(home: Path, address: str) -> None:
    told = drill(home, address, "shared_out", 4, 40)
    assert told["codes"] == [0] * 4
    assert sorted(told["done"]) == told["asked"]  # each job once
    assert told["states"] == ["done"] * 40
