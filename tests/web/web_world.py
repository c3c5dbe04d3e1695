"""An invented record with one of everything, the addresses of its pages, and browsers without a screen."""

from __future__ import annotations

import re
import struct
import zlib
from dataclasses import dataclass, field
from datetime import date
from io import BytesIO
from pathlib import Path
from random import Random
from typing import Any, ClassVar

from django.conf import settings
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from record_scene import NOBODY, STRANGER, Scene, first_person

from kilter.diagnose.learned_odds_counts import Count
from kilter.records.reading import Reading
from kilter.services.experience import COUNTS, EXPORTED, Entry, Experience, plain_counts
from kilter.services.permissions import ROLES
from kilter.services.place_thermal import Mark
from kilter.services.seal import new_key, public_key, sealed
from kilter.services.share_experience import shared_content
from kilter.services.visit_log import READ, WAIVED
from kilter.store.journal import head
from kilter.store.models import (
    BoardEdition,
    CollectionObject,
    Filing,
    Job,
    KnownSharer,
    Person,
    Proposal,
    RemovedPart,
    RunningEntry,
    SoakPlan,
    Statement,
    Visit,
)
from kilter.store.models.attachment import SOAK_LOG
from kilter.store.verbs.boards import keep_board, unpacked
from kilter.store.verbs.files import attach
from kilter.store.verbs.inspections import Inspected, write_inspection
from kilter.store.verbs.jobs import ask_for
from kilter.store.verbs.learned import know_sharer
from kilter.store.verbs.people import add_at_the_machine
from kilter.store.verbs.running import Ran, write_running
from kilter.store.verbs.showings import Showing, show
from kilter.store.verbs.soaks import plan_soak_of
from kilter.store.verbs.statements import state
from kilter.store.verbs.tokens import issue_token
from kilter.store.verbs.visits import add_entry, open_visit
from kilter.store.verbs.wearing import set_wearing
from kilter.web.thermal_said import Said, say
from kilter.wiring.record_experience import RecordExperience
from kilter.wiring.record_sharing import Choice, accept_shared, key_path, known_sharers, today, write_shared
from kilter.wiring.shared_boards import board_for_others

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
    thermal: Filing
    log: Filing
    proposal: Proposal
    other_proposal: Proposal
    piece: RemovedPart
    job: Job
    hours: RunningEntry
    came_in: dict[str, str] = field(default_factory=dict)
    soak: SoakPlan | None = None
    sharer: KnownSharer | None = None
    lessons: dict[str, int] = field(default_factory=dict)

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
                    "capture_picture": self.capture, "thermal": self.thermal, "sharer": self.sharer,
                    "heat_picture": self.thermal, "meter_log": self.log, "piece": self.piece,
                    "proposal": self.proposal, "change_proposal": self.proposal, "answer": self.proposal,
                    "withdraw": self.proposal, "person": self.scene.who("reader"), "job": self.job,
                    "stop_job": self.job, "take_row_back": self.hours}.get(name, self.object)  # fmt: skip
        told: dict[str, Any] = {"pk": key.pk, "number": self.visit.number, "key": self.edition.board.key, "code": "x",
                                "ending": "csv", "channel": 0, "what": "hours",
                                "session": 0, "rest": "objects"}  # fmt: skip
        told["number"] = self.lessons.get(name, self.visit.number)
        return {one: told[one] for one in wanted}

    def pages(self) -> list[str]:
        """Every page that can be looked at."""
        names = ("collection", "receive", "object", "history", "change", "say", "take_back", "open_visit",
                 "propose", "repair", "visit", "bench", "cures", "proof", "soak", "soak_plan", "beside",
                 "outcome", "without_learned", "learned", "lesson", "sharing", "share_out", "take_in", "new_sharer",
                 "sharer", "places", "capture", "thermal", "meter_log", "bring_list", "gate", "switch_on_plan",
                 "take_away",
                 "proposal", "change_proposal", "piece", "boards", "keep_board", "board", "keep_edition",
                 "donors", "on_display", "look_ahead", "display", "put_on", "write_hours", "write_inspected",
                 "say_what_wears", "say_what_was_renewed", "take_row_back", "people", "add_person", "person",
                 "me", "jobs", "job")  # fmt: skip
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
    thermal = attach(scene.who("recorder"), BytesIO(temperatures()), "warm.csv", "thermal picture", "text/plain",
                     about=one, visit=visits[0])  # fmt: skip
    log = attach(scene.who("recorder"), BytesIO(warm_up()), "warm-up.csv", "meter log", "text/plain",
                 about=one, visit=visits[0])  # fmt: skip
    say(scene.who("recorder"), thermal, Said(ambient=20.0, marks=tuple(Mark(f"R{n}", *WARM[n][:2]) for n in WARM)))
    statements = [state(scene.who("recorder"), about, "condition", "Silent.") for about in (one, other)]
    proposals = [scene.a_proposal(about, grade=5) for about in (one, other)]
    job = ask_for(scene.who("repairer"), "thorough diagnosis", {"visit": visits[0].pk})
    issue_token(everybody, "the logger")
    world = World(scene, everybody, one, other, edition, elsewhere, *visits, *statements, scene.a_file(one, PNG),
                 capture, thermal, log, *proposals, scene.a_piece(one), job, _on_display(scene, one))  # fmt: skip
    world.soak = _a_soak(scene, visits[0])
    world.sharer, world.lessons = learned_and_shared(scene, edition)
    for role in (*PEOPLE, ALL_ROLES):
        world.client(role)
    return world


def _a_soak(scene: Scene, visit: Visit) -> SoakPlan:
    """A plan and a log of two hours, in which point B is steady."""
    channel = {"name": "B", "quantity": "voltage", "low": 4.9, "high": 5.1, "why": "a tenth of a volt"}
    noise = Random(4)
    hours = "time (min),B (V)\n" + "".join(f"{step},{noise.gauss(5.0, 0.002):.4f}\n" for step in range(120))
    attach(scene.who("recorder"), BytesIO(hours.encode()), "day 1.csv", SOAK_LOG, "text/plain", visit=visit)
    return plan_soak_of(scene.who("recorder"), visit, 8.0, [channel])


def _on_display(scene: Scene, one: CollectionObject) -> RunningEntry:
    """With hours, a part that wears, an inspection; of another object that stands there nobody knows the hours."""
    begin = date(2025, 5, 1)
    show(scene.who("registrar"), one, Showing(begin, place="hall"))
    unknown = scene.an_object("HC 0419")
    show(scene.who("registrar"), unknown, Showing(begin, place="stairs"))
    set_wearing(scene.who("repairer"), unknown, "belt", 3)
    write_inspection(scene.who("recorder"), one, Inspected("dust", begin, "nothing found"))
    return write_running(scene.who("recorder"), one, Ran("meter read", begin, hours=12.0))


def a_png(width: int = 40, height: int = 30) -> bytes:
    """A grey picture, built as the PNG specification (ISO/IEC 15948) has it."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    rows = b"".join(b"\0" + b"\x80" * width for _ in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


PNG = a_png()
THEIRS, THEIR_KEY = new_key()
OURS, _ = new_key()


def learned_and_shared(scene: Scene, edition: BoardEdition) -> tuple[KnownSharer, dict[str, int]]:
    """Counts, a file that went out and one that came in with a board; numbers of the entries by name of address."""
    registrar, keeper = scene.who("registrar"), RecordExperience(scene.who("repairer"))
    counts = plain_counts([Count("resistor", "", 30, {"open": 2}, 9)])
    keeper.add(keeper.read(), COUNTS, {"counts": counts, "file": "shelf.csv", "sha256": "1" * 64})
    known = know_sharer(registrar, "harbour", THEIR_KEY, 0.5)
    key_path().parent.mkdir(parents=True, exist_ok=True)
    key_path().write_bytes(OURS)
    out, _ = write_shared(registrar, Choice("CC0-1.0"), today())
    board = board_for_others(unpacked(edition), "Ladder of others")
    came, _ = accept_shared(registrar, shared_by_others(1, [board]), known_sharers(), today())
    return known, {"lesson": 1, "shared_file": out.number, "shared_boards": came.number}


def shared_by_others(number: int, boards: Any = ()) -> bytes:
    """A file that 'harbour' signed."""
    earlier = Entry(1, "", "", EXPORTED, {"key": THEIR_KEY, "sequence": number - 1})
    counts = Entry(2, "", "", COUNTS, {"counts": plain_counts([Count("resistor", "", 60, {"open": 9}, 9)])})
    content = shared_content(Experience((earlier, counts)), public_key(THEIRS), today(), "CC0-1.0", boards)
    return sealed(content, THEIRS)


WARM = {1: (20.0, 15.0, 10.0), 2: (60.0, 15.0, 30.0), 3: (60.0, 45.0, 0.0)}
"""Middle [pixels] and rise [K] of the three resistors on the temperature picture, two pixels a millimetre."""


def warm_up() -> bytes:
    """Two hours, a value a minute: 4.8 V rising to 5 V in the first hour, then 5 V; a millivolt to and fro."""
    volts = [4.8 + 0.2 * min(minute, 60) / 60 + (minute * 7 % 3 - 1) / 1000 for minute in range(121)]
    rows = [f"{minute * 60},{value:.4f}" for minute, value in enumerate(volts)]
    return ("time (s),voltage (V)\n" + "\n".join(rows) + "\n").encode()


def temperatures(ambient: float = 20.0, factor: float = 1.0, surroundings: float = 0.0) -> bytes:
    """80 by 60 temperatures as text: squares of 13 pixels that stand above a level bench; nothing else, so no doubt."""
    lines = []
    for y in range(60):
        row = [ambient + surroundings] * 80
        for left, top, rise in WARM.values():
            for x in range(80):
                if abs(x - left) <= 6 and abs(y - top) <= 6:
                    row[x] = ambient + factor * rise
        lines.append(";".join(f"{one:.2f}" for one in row))
    return ("\n".join(["temperatures in degC", *lines]) + "\n").encode()


def addresses() -> list[URLPattern]:
    """Every address of the pages, found where they are declared."""

    def within(rows: list[URLPattern | URLResolver]) -> list[URLPattern]:
        return [one for row in rows for one in (within(row.url_patterns) if hasattr(row, "url_patterns") else [row])]

    return within(get_resolver().url_patterns)


def written() -> int:
    """How many entries the journal has."""
    return head()[0]
