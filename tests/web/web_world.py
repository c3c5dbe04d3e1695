"""An invented record with one of everything, the addresses of its pages, and browsers without a screen."""

from __future__ import annotations

import re
import struct
import zlib
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any, ClassVar

from django.conf import settings
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from record_scene import NOBODY, STRANGER, Scene, first_person

from kilter.records.reading import Reading
from kilter.services.permissions import ROLES
from kilter.services.visit_log import READ, WAIVED
from kilter.store.journal import head
from kilter.store.models import (
    BoardEdition,
    CollectionObject,
    Filing,
    Job,
    Person,
    Proposal,
    RemovedPart,
    SoakPlan,
    Statement,
    Visit,
)
from kilter.store.models.attachment import SOAK_LOG
from kilter.store.verbs.boards import keep_board
from kilter.store.verbs.files import attach
from kilter.store.verbs.jobs import ask_for
from kilter.store.verbs.people import add_at_the_machine
from kilter.store.verbs.soaks import plan_soak_of
from kilter.store.verbs.statements import state
from kilter.store.verbs.tokens import issue_token
from kilter.store.verbs.visits import add_entry, open_visit

LADDER = Path(__file__).parents[1] / "cli" / "boards"
"""Three resistors in a row from ten volts: a board that is weighed in a moment."""
ALL_ROLES = "all roles"
PLACES = ((1, 10, 10), (2, 30, 10), (3, 30, 40))
"""Of its parts, in millimetres."""
PEOPLE = (*ROLES, NOBODY, STRANGER, "")
"""Who comes to a page: the six roles, somebody without any, somebody whose door is shut, and nobody who came in."""
PASSWORD = "eleven teal kettles"


class Browser(Client):
    """
    One without a screen; `body` of an answer holds its bytes, also where they were streamed.

    All of them share one way into the pages, for making it looks through every static file.
    """

    ways: ClassVar[dict[bool, Any]] = {}

    def __init__(self, **more: Any) -> None:
        super().__init__(**more)
        self.handler = self.ways.setdefault(self.handler.enforce_csrf_checks, self.handler)

    def request(self, **request: Any) -> Any:
        """Reads the whole answer, which closes what it came from."""
        answer = super().request(**request)
        answer.body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        return answer


@dataclass
class World:
    """What the pages show; `other` things belong to another object."""

    scene: Scene
    everybody: Person
    object: CollectionObject
    other: CollectionObject
    edition: BoardEdition
    other_edition: BoardEdition
    visit: Visit
    other_visit: Visit
    statement: Statement
    other_statement: Statement
    filing: Filing
    capture: Filing
    proposal: Proposal
    other_proposal: Proposal
    piece: RemovedPart
    job: Job
    came_in: dict[str, str] = field(default_factory=dict)
    soak: SoakPlan | None = None

    def who(self, role: str) -> Person | None:
        """The person of a role; None for ''."""
        if role == ALL_ROLES:
            return self.everybody
        return self.scene.who(role) if role else None

    def client(self, role: str = ALL_ROLES, **more: Any) -> Browser:
        """A browser in which the person of a role has come in."""
        browser, person = Browser(**{"HTTP_HOST": "localhost", **more}), self.who(role)
        if person is None:
            return browser
        if role not in self.came_in:
            browser.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
            self.came_in[role] = browser.cookies[settings.SESSION_COOKIE_NAME].value
        browser.cookies[settings.SESSION_COOKIE_NAME] = self.came_in[role]
        return browser

    def path(self, name: str) -> str:
        """An address that leads somewhere, for the name of any address of the pages."""
        return reverse(name, kwargs=self.places(name))

    def places(self, name: str) -> dict[str, Any]:
        """What stands at the braces of an address."""
        pattern = {one.name: one for one in addresses()}[name].pattern
        wanted = (*pattern.converters, *getattr(pattern, "regex", re.compile("")).groupindex)
        key: Any = {"take_back": self.statement, "file": self.filing, "take_away": self.filing, "picture": self.filing,
                    "places": self.filing, "capture": self.capture,
                    "capture_picture": self.capture, "piece": self.piece,
                    "proposal": self.proposal, "change_proposal": self.proposal, "answer": self.proposal,
                    "withdraw": self.proposal, "person": self.scene.who("reader"), "job": self.job,
                    "stop_job": self.job}.get(name, self.object)  # fmt: skip
        told: dict[str, Any] = {"pk": key.pk, "number": self.visit.number, "key": self.edition.board.key, "code": "x",
                                "ending": "csv", "channel": 0, "session": 0,
                                "rest": "objects"}  # fmt: skip
        return {one: told[one] for one in wanted}

    def pages(self) -> list[str]:
        """Every page that can be looked at."""
        names = ("collection", "receive", "object", "history", "change", "say", "take_back", "open_visit", "propose",
                 "repair", "visit", "bench", "cures", "proof", "soak", "soak_plan", "beside", "places", "capture",
                 "bring_list", "gate",
                 "switch_on_plan", "take_away", "proposal", "change_proposal", "piece", "boards", "keep_board", "board",
                 "keep_edition", "people", "add_person", "person", "me", "jobs", "job")  # fmt: skip
        return [self.path(name) for name in names]


def make_world() -> World:
    """Made by the verbs, as people would."""
    scene = first_person()
    for role in (*ROLES, NOBODY, STRANGER):
        scene.who(role)
    everybody = add_at_the_machine("everybody", "Somebody with all roles", ROLES, PASSWORD)
    files = {name: (LADDER / name).read_bytes() for name in ("ladder.toml", "ladder.cir")}
    files["ladder.toml"] += b"".join(b"\n[parts.R%d]\nposition = [%d, %d]\n" % one for one in PLACES)
    edition = keep_board(scene.who("repairer"), "ladder", "Ladder of three", "ladder.toml", files)
    strange = {**files, "ladder.toml": files["ladder.toml"] + b"\n# of another board\n"}
    elsewhere = keep_board(scene.who("repairer"), "ladder-2", "Another ladder", "ladder.toml", strange)
    one = scene.an_object("HC 0417", board=edition.board)
    other = scene.an_object("HC 0418", board=edition.board)
    visits = [open_visit(scene.who("repairer"), one, "no sound"),
              open_visit(scene.who("repairer"), other, "to compare with", known_good=True)]  # fmt: skip
    for visit in visits:
        add_entry(scene.who("repairer"), visit, WAIVED, {"note": "no meter here"}, None, after=0)
        reading = Reading("A", "voltage", 10.0, uncertainty=0.05, state="bench")
        add_entry(scene.who("recorder"), visit, READ, {"point": "A", "value": "10 V"}, reading, after=1)
    sampled = "second,Volt\n" + "".join(f"{step / 1000},{5.0 + step % 2 / 1000}\n" for step in range(200))
    capture = attach(scene.who("recorder"), BytesIO(sampled.encode()), "point-b.csv", "capture", "text/plain",
                     about=one, visit=visits[0])  # fmt: skip
    statements = [state(scene.who("recorder"), about, "condition", "Silent.") for about in (one, other)]
    proposals = [scene.a_proposal(about, grade=5) for about in (one, other)]
    job = ask_for(scene.who("repairer"), "thorough diagnosis", {"visit": visits[0].pk})
    issue_token(everybody, "the logger")
    world = World(scene, everybody, one, other, edition, elsewhere, *visits, *statements, scene.a_file(one, PNG),
                 capture, *proposals, scene.a_piece(one), job)  # fmt: skip
    world.soak = _a_soak(scene, visits[0])
    for role in (*PEOPLE, ALL_ROLES):
        world.client(role)
    return world


def _a_soak(scene: Scene, visit: Visit) -> SoakPlan:
    """A plan and a log of two hours, in which point B is steady."""
    channel = {"name": "B", "quantity": "voltage", "low": 4.9, "high": 5.1, "why": "a tenth of a volt"}
    hours = "time (min),B (V)\n" + "".join(f"{step},{5.0 + step % 2 / 1000}\n" for step in range(120))
    attach(scene.who("recorder"), BytesIO(hours.encode()), "day 1.csv", SOAK_LOG, "text/plain", visit=visit)
    return plan_soak_of(scene.who("recorder"), visit, 8.0, [channel])


def a_png(width: int = 40, height: int = 30) -> bytes:
    """A grey picture, built as the PNG specification (ISO/IEC 15948) has it."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    rows = b"".join(b"\0" + b"\x80" * width for _ in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


PNG = a_png()


def addresses() -> list[URLPattern]:
    """Every address of the pages, found where they are declared."""

    def within(rows: list[URLPattern | URLResolver]) -> list[URLPattern]:
        return [one for row in rows for one in (within(row.url_patterns) if hasattr(row, "url_patterns") else [row])]

    return within(get_resolver().url_patterns)


def written() -> int:
    """How many entries the journal has."""
    return head()[0]
