"""What may be asked of every address, by whom, and a form that would be taken."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from web_world import LADDER, PASSWORD, PNG, World, shared_by_others

LOOK = "look at the collection"
AT_BENCH, WRITE, PROPOSE = "record at the bench", "write about an object", "propose work"
SHOW, COUNT = "put on display", "keep count on display"
SHARE, ENDED = "share experience", "say how a visit ended"
PEOPLE, HAND_OVER = "look after people", "hand the record over"


@dataclass(frozen=True)
class Form:
    """
    A form that is taken from who may.

    Args:
        verb: A key of `kilter.services.permissions.VERBS`.
        fields: What is typed.
        files: Uploaded with it, made anew each time.
        status: Of the answer where it was taken.
        silent: It leaves nothing in the journal, for it changes nothing that is part of the record.
    """

    verb: str
    fields: Callable[[World], dict[str, Any]] = lambda _: {}
    files: Callable[[], dict[str, Any]] = dict
    status: int = 302
    silent: bool = False


@dataclass(frozen=True)
class Address:
    """
    What an address takes.

    Args:
        look: Verb for looking at it; None where nothing can be looked at.
        forms: What it takes, each on its own.
    """

    look: str | None = LOOK
    forms: tuple[Form, ...] = field(default=())


def typed(**fields: Any) -> Callable[[World], dict[str, Any]]:
    """Fields that need no look at the record."""
    return lambda _: fields


def a_picture() -> dict[str, Any]:
    return {"files": SimpleUploadedFile("front.png", PNG)}


def a_board() -> dict[str, Any]:
    board = (LADDER / "ladder.toml").read_bytes().replace(b"Ladder of three", b"Another edition of it")
    return {"files": [SimpleUploadedFile("ladder.toml", board),
                      SimpleUploadedFile("ladder.cir", (LADDER / "ladder.cir").read_bytes())]}  # fmt: skip


def a_shared_file() -> dict[str, Any]:
    return {"file": SimpleUploadedFile("theirs.kilter", shared_by_others(2))}


def a_soak_log() -> dict[str, Any]:
    return {"logs": SimpleUploadedFile("day 2.csv", b"time (min),B (V)\n0,5.0\n1,5.0\n")}


def a_soak_plan(world: World) -> dict[str, Any]:
    return {"hours": "4", "state": "bench", "supersedes": str(world.soak.pk), "name-0": "B", "quantity-0": "voltage",
            "low-0": "4.9 V", "high-0": "5.1 V", "why-0": "by hand", "words": "closing time"}  # fmt: skip


def a_list() -> dict[str, Any]:
    return {"file": SimpleUploadedFile("list.csv", b"number,name\nHC 0901,Sorting machine\n")}


def a_collection() -> dict[str, Any]:
    text = b'kilter = 1\n[objects."HC 0417"]\nneeds = { "4116" = 1 }\n'
    return {"collection": SimpleUploadedFile("what.toml", text),
            "stock": [SimpleUploadedFile("shelf.csv", b"part,count,condition\n4116,2,unused\n")]}  # fmt: skip


def _visit(world: World) -> dict[str, Any]:
    return {"act": "answer", "after": str(world.visit.entries.count()), "point": "A", "quantity": "resistance",
            "state": "off", "value": "10.0 k", "instrument": "dmm"}  # fmt: skip


def _gate(means: str) -> Callable[[World], dict[str, Any]]:
    return lambda world: {"means": means, "why": "no meter here", "after": str(world.visit.entries.count())}


OBJECT = {"number": "HC 0900", "name": "Sorting machine", "state": "waiting", "accession": "", "why": "from the attic"}
WORK = {"act": "work", "grade": "5", "part": "R1", "words": "a new one", "reason": "it drifted",
        "alternatives": "leave it", "undo": "the old one is kept"}  # fmt: skip
BENCH_POST = Form(AT_BENCH, _visit, status=303)

TABLE: dict[str, Address] = {
    "collection": Address(),
    "receive": Address("receive an object", (Form("receive an object", typed(**OBJECT)),)),
    "bring_list": Address("receive an object", (
        Form("receive an object", typed(really="on", why="a list"), a_list, status=200),
    )),
    "object": Address(),
    "history": Address(),
    "change": Address("change an object's entry", (Form("change an object's entry", typed(**OBJECT, edition="1")),)),
    "say": Address(WRITE, (Form(WRITE, typed(kind="note", text="A sticker in the lid.")),)),
    "take_back": Address(WRITE, (Form(WRITE, typed(why="a mistake")),)),
    "bring": Address(None, (Form("attach a file", typed(kind="photograph"), a_picture),)),
    "open_visit": Address("open a visit", (Form("open a visit", typed(reason="no sound", not_working="on")),)),
    "report": Address(),
    "report_in_print": Address(),
    "record": Address(),
    "museum_xml": Address(HAND_OVER),
    "bag": Address(HAND_OVER),
    "label": Address(),
    "label_in_print": Address(),
    "readings": Address(),
    "collection_table": Address(HAND_OVER),
    "propose": Address(PROPOSE, (Form(PROPOSE, typed(**WORK)),)),
    "repair": Address(LOOK, (
        Form("record a repair", typed(act="cleaned", grade="3", words="contacts")),
        Form("make something safe", typed(act="made safe", grade="6", words="cord cut")),
    )),
    "visit": Address(),
    "change_visit": Address(None, (Form(AT_BENCH, typed(kind="closed", why="done")),)),
    "bring_to_visit": Address(None, (Form("attach a file", typed(kind="photograph"), a_picture),)),
    "bench": Address(),
    "take": Address(None, (BENCH_POST,)),
    "cures": Address(),
    "work_out_cures": Address(None, (Form("start long work"),)),
    "proof": Address(),
    "proof_picture": Address(),
    "soak": Address(LOOK, (Form(AT_BENCH, typed(hours="8", state="bench")),)),
    "soak_plan": Address(LOOK, (Form(AT_BENCH, a_soak_plan),)),
    "soak_plan_file": Address(),
    "bring_soak_log": Address(None, (Form("attach a file", typed(), a_soak_log),)),
    "judge_soak": Address(None, (Form("start long work", typed(failures="0")),)),
    "record_soak": Address(None, (Form(AT_BENCH, typed(failures="1", words="a pop was heard")),)),
    "soak_picture": Address(),
    "beside": Address(),
    "beside_picture": Address(),
    "gate": Address(),
    "switch_on_plan": Address(),
    "take_checks": Address(None, (Form(AT_BENCH, typed(**{"outcome-0": "passed"})),)),
    "let_power_on": Address(None, (Form("pass the power checks", _gate("waived")),)),
    "thorough": Address(None, (Form("start long work"),)),
    "file": Address(),
    "picture": Address(),
    "places": Address("attach a file", (Form("attach a file", typed(**{"part": "R1", "spot.x": "9", "spot.y": "9"})),)),
    "capture": Address(LOOK, (Form(AT_BENCH, typed(**{"at-0": "B", "state": "bench"})),)),
    "capture_picture": Address(),
    "thermal": Address(LOOK, (
        Form("attach a file", typed(act="say", ambient="21.5")),
        Form("attach a file", typed(act="mark", part="R1", x="21", y="14", surface="plastic")),
        Form("attach a file", typed(act="remove", part="R1")),
        Form(AT_BENCH, typed(act="put", part=["R2", "R1"], state="bench")),
    )),
    "heat_picture": Address(),
    "meter_log": Address(LOOK, (
        Form(AT_BENCH, typed(act="put", point="B", state="bench", **{"from": "70", "to": "110"})),
    )),
    "take_away": Address("attach a file", (Form("attach a file", typed(why="the wrong one")),)),
    "proposal": Address(),
    "change_proposal": Address(PROPOSE, (Form(PROPOSE, typed(**WORK)),)),
    "answer": Address(None, (
        Form("answer a proposal", typed(version="1", capacity="governing body", decision="refusal", words="no")),
    )),
    "withdraw": Address(None, (Form(PROPOSE, typed(why="it works")),)),
    "piece": Address("move a removed part", (
        Form("move a removed part", typed(disposition="kept as a sample", place="shelf 2")),
    )),
    "donors": Address("start long work", (Form("start long work", typed(), a_collection),)),
    "on_display": Address(),
    "display_calendar": Address(),
    "display_wall": Address(),
    "look_ahead": Address(LOOK, (Form("start long work", typed(years="5")),)),
    "display": Address(),
    "object_calendar": Address(),
    "put_on": Address(SHOW, (
        Form(SHOW, typed(begin="2024-01-02", end="2024-02-01", place="hall", hours_a_week="12.5")),
    )),
    "write_hours": Address(COUNT, (Form(COUNT, typed(kind="meter read", day="2025-06-01", hours="33")),)),
    "write_inspected": Address(COUNT, (
        Form(COUNT, typed(key="dust", day="2025-06-01", outcome="nothing found", words="")),
    )),
    "say_what_wears": Address(SHOW, (Form(SHOW, typed(kind="belt", count="3", words="of the reels")),)),
    "say_what_was_renewed": Address("record a repair", (
        Form("record a repair", typed(kind="belt", day="2025-06-01", count="3", failed="1", words="all")),
    )),
    "take_row_back": Address(LOOK, (Form(COUNT, typed(why="misread")),)),
    "boards": Address(),
    "keep_board": Address("keep a board", (Form("keep a board", typed(key="ladder-3", main="ladder.toml"), a_board),)),
    "board": Address(),
    "keep_edition": Address("keep a board", (Form("keep a board", typed(main="ladder.toml"), a_board),)),
    "people": Address(PEOPLE),
    "add_person": Address(PEOPLE, (
        Form(PEOPLE, typed(login="new-one", name="Somebody new", roles=["reader"], password=PASSWORD)),
    )),
    "person": Address(PEOPLE, (
        Form(PEOPLE, typed(act="roles", roles=["recorder"], why="learned it")),
        Form(PEOPLE, typed(act="shut")),
        Form(PEOPLE, typed(act="password", password="nine amber lanterns")),
    )),
    "me": Address(LOOK, (
        Form(LOOK, typed(old=PASSWORD, password="nine amber lanterns", again="nine amber lanterns")),
    )),
    "new_key": Address(None, (Form(LOOK, typed(name="the logger")),)),
    "outcome": Address(LOOK, (
        Form(ENDED, typed(found="parts were faulty", **{"free-0": "1", "part-0": "R1:open"}, works="works again",
                          words="it measured open")),
    )),
    "without_learned": Address(),
    "learned": Address(),
    "learn_now": Address(None, (Form("start long work", typed()),)),
    "lesson": Address(LOOK, (Form("withdraw what was learned", typed(why="counted twice")),)),
    "shared_file": Address(SHARE),
    "shared_boards": Address(),
    "sharing": Address(),
    "share_out": Address(SHARE, (Form(SHARE, typed(licence="CC0-1.0", kinds=["resistor"], really="on")),)),
    "take_in": Address(SHARE, (Form(SHARE, typed(really="on"), a_shared_file),)),
    "new_sharer": Address(SHARE, (Form(SHARE, typed(name="the mill", key="6" * 64, trust="50")),)),
    "sharer": Address(SHARE, (
        Form(SHARE, typed(act="know", name="harbour", trust="25", why="it counts otherwise")),
        Form(SHARE, typed(act="forget", why="the key was lost")),
    )),
    "jobs": Address(),
    "job": Address(),
    "stop_job": Address(None, (Form("stop long work"),)),
}  # fmt: skip
"""By the address's name. What is not here is in OPEN, ELSEWHERE or the test fails."""

OPEN = frozenset({"door", "leave", "first", "hello", "set_language", "api", "end_key", "make_own_key"})
"""Addresses with a test of their own: the door and its keys, the language, the door for programs, the signing key."""
