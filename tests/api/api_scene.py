"""An invented small collection with keys: a person for every role, two objects, and something of every kind."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

from django.test import Client

from kilter.services.permissions import ROLES
from kilter.store.models import (
    CollectionObject,
    Filing,
    Job,
    Person,
    Proposal,
    RemovedPart,
    SoakPlan,
    Statement,
    Visit,
    VisitOutcome,
)
from kilter.store.models.attachment import SOAK_LOG
from kilter.store.verbs.boards import keep_board
from kilter.store.verbs.files import attach
from kilter.store.verbs.inspections import Inspected, write_inspection
from kilter.store.verbs.jobs import ask_for
from kilter.store.verbs.learned import add_learned
from kilter.store.verbs.objects import receive_object
from kilter.store.verbs.outcomes import note_outcome
from kilter.store.verbs.people import add_at_the_machine, set_door
from kilter.store.verbs.proposals import propose
from kilter.store.verbs.repairs import record_repair
from kilter.store.verbs.running import Ran, write_running
from kilter.store.verbs.showings import Showing, show
from kilter.store.verbs.soaks import plan_soak_of
from kilter.store.verbs.statements import state
from kilter.store.verbs.tokens import issue_token, revoke_token
from kilter.store.verbs.visits import open_visit
from kilter.store.verbs.wearing import Renewal, set_wearing, write_renewal
from kilter.wiring.record_bench import session_of

BOARD = Path(__file__).parents[1] / "cli" / "boards"
FILES = {name: (BOARD / name).read_bytes() for name in ("ladder.toml", "ladder.cir")}
PASSWORD = "eleven teal kettles"
JSON, BYTES = "application/json", "application/octet-stream"


@dataclass
class Scene:
    """
    The record.

    Args:
        people: By role; 'nobody' has none, 'everything' has all; so has 'shut', who is no longer let in.
        keys: Keys of the same people; 'revoked' is one that was taken back, of a person with all roles.
        about: An object with a visit, a statement, a file, a proposal, a removed part.
        other: Another object of the same board, with nothing.
        outcome: That stands for the visit.
        shown: Key of an entry about the display of each kind.
        soak: The plan of the visit's soak, which has a log.
    """

    people: dict[str, Person]
    keys: dict[str, str]
    about: CollectionObject
    other: CollectionObject
    visit: Visit
    statement: Statement
    filing: Filing
    proposal: Proposal
    piece: RemovedPart
    job: Job
    outcome: VisitOutcome
    shown: dict[str, int]
    soak: SoakPlan
    client: Client = field(default_factory=lambda: Client(enforce_csrf_checks=True, SERVER_NAME="127.0.0.1"))

    def ask(
        self, role: str, method: str, path: str, body: Any = None, *, raw: bytes | None = None, kind: str = JSON,
        query: Mapping[str, Any] | None = None, **headers: str,
    ) -> Any:  # fmt: skip
        """
        The answer to a request.

        Args:
            role: Whose key it carries, '' for none.
            method: GET, POST...
            path: Below /api.
            body: Sent as JSON.
            raw: Sent as it is, in place of `body`.
            kind: Media type of what is sent.
            query: Parameters.
            headers: As a server names them.
        """
        if role:
            headers["HTTP_AUTHORIZATION"] = f"Bearer {self.keys[role]}"
        data = raw if raw is not None else b"" if body is None else json.dumps(body).encode()
        sent = {"data": data, "content_type": kind} if data or raw is not None else {}
        response = self.client.generic(method, f"/api{path}", query_params=query, **sent, **headers)
        if response.streaming:
            response.brought = response.getvalue()  # which also closes it
        return response

    def done(self, role: str, method: str, path: str, body: Any = None, **more: Any) -> Any:
        """The same, which has to go well; its JSON."""
        response = self.ask(role, method, path, body, **more)
        assert response.status_code in (200, 201), response.content
        return response.json()


def make_scene() -> Scene:
    """All of it, by the verbs."""
    people = {role: add_at_the_machine(role, f"Somebody {role}", (role,), PASSWORD) for role in reversed(ROLES)}
    for name in ("shut", "revoked", "everything"):
        people[name] = add_at_the_machine(name, "", ROLES, PASSWORD)
    people["nobody"] = add_at_the_machine("nobody", "", ("reader",), PASSWORD)
    keys = {name: issue_token(person, "tests") for name, person in people.items()}
    people["nobody"].groups.clear()
    set_door(people["administrator"], people["shut"], is_open=False)
    revoke_token(people["revoked"], people["revoked"].tokens.get().pk)
    registrar, repairer, recorder = people["registrar"], people["repairer"], people["recorder"]
    board = keep_board(repairer, "ladder", "Ladder of three", "ladder.toml", FILES).board
    told = {"name": "Step computer", "accession": "donor_stock", "board": board}
    about = receive_object(registrar, {"number": "HC 0417", **told}, "found in the attic")
    other = receive_object(registrar, {"number": "HC 0418", **told})
    visit = open_visit(repairer, about, "no sound")
    with session_of(visit, recorder) as session:
        session.read({"point": "A", "value": "20 kohm", "state": "off"})
    outcome = note_outcome(repairer, visit, "not found out", {}, "not tried")
    add_learned(repairer, "counts", {"counts": [], "file": "shelf.csv", "sha256": "1" * 64}, after=0)
    repair = record_repair(repairer, about, "removed", 3, "taken out", part="R1", removed={"original": True})
    work = {"act": "work", "grade": 5, "part": "R2", "words": "put in another", "reason": "it drifted",
            "alternatives": "leave it", "undo": "the old one is kept"}  # fmt: skip
    return Scene(
        people, keys, about, other, visit,
        state(recorder, about, "note", "It hums."),
        attach(recorder, BytesIO(b"\x89PNG\r\n\x1a\n"), "a.png", "photograph", "image/png", about=about, visit=visit),
        propose(recorder, about, work), repair.removed_parts.get(), ask_for(repairer, "thorough diagnosis", {}),
        outcome, _shown(recorder, repairer, about), _a_soak(recorder, visit),
    )  # fmt: skip


def _a_soak(recorder: Person, visit: Visit) -> SoakPlan:
    """A plan and a log of half an hour."""
    log = b"time (min),B (V)\n" + b"".join(b"%d,5.0%d\n" % (at, at % 3) for at in range(30))
    attach(recorder, BytesIO(log), "day 1.csv", SOAK_LOG, "text/plain", visit=visit)
    return plan_soak_of(recorder, visit, 4.0, [{"name": "B", "quantity": "voltage", "low": 4.5, "high": 5.5}])


def _shown(recorder: Person, repairer: Person, about: CollectionObject) -> dict[str, int]:
    day = date(2025, 5, 1)
    rows = {
        "periods": show(repairer, about, Showing(day, date(2025, 8, 1))),
        "running": write_running(recorder, about, Ran("meter read", day, hours=12.0)),
        "inspections": write_inspection(recorder, about, Inspected("dust", day, "nothing found")),
        "wear": set_wearing(repairer, about, "lamp", 2),
        "renewals": write_renewal(repairer, about, Renewal("lamp", day, 1)),
    }
    return {name: row.pk for name, row in rows.items()}
