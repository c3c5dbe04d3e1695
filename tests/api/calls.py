"""For every operation of the table a request that fits the scene, so that none is left untried."""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import Any

from api_scene import FILES, PASSWORD, Scene

Request = tuple[str, str, Any]
"""Method, path below /api, and what is sent: JSON, bytes or nothing."""

WORK = {"act": "work", "grade": 2, "words": "clean it", "reason": "it is dusty"}
CHANGED = {name: content + b"\n* more\n" if name.endswith("cir") else content for name, content in FILES.items()}
KEPT = [{"name": name, "base64": base64.b64encode(content).decode()} for name, content in CHANGED.items()]


def request_for(name: str, scene: Scene, role: str = "") -> Request:
    """
    The request.

    Args:
        name: Of the operation.
        scene: Of the test.
        role: Who asks; a registrar answers a proposal for somebody else than an approver.
    """
    return _CALLS[name](scene, role)


def _at(method: str, path: str, body: Any = None) -> Callable[[Scene, str], Request]:
    """A request whose path names things of the scene."""

    def made(scene: Scene, _role: str) -> Request:
        places = {
            "object": scene.about.pk, "statement": scene.statement.pk, "visit": scene.visit.number,
            "proposal": scene.proposal.number, "part": scene.piece.pk, "file": scene.filing.pk, "job": scene.job.pk,
            "lesson": 1, "board": "ladder", "edition": 1, "person": scene.people["nobody"].key,
        }  # fmt: skip
        return method, path.format(**places), body

    return made


def _answer(scene: Scene, role: str) -> Request:
    capacity = "registrar" if role == "registrar" else "keeper"
    told = {"version": 1, "capacity": capacity, "decision": "consent"}
    return _at("POST", "/objects/{object}/proposals/{proposal}/answers", told)(scene, role)


def _erase(scene: Scene, role: str) -> Request:
    return _at("POST", "/people/{person}/erase", {"sure": scene.people["nobody"].key})(scene, role)


def _check(scene: Scene, role: str) -> Request:
    from kilter.wiring.power_gate import checks_wanted

    told = {"name": checks_wanted()[0], "outcome": "passed"}
    return _at("POST", "/objects/{object}/visits/{visit}/power/checks", told)(scene, role)


def _shown(kind: str) -> Callable[[Scene, str], Request]:
    """Taking back an entry about the display."""

    def made(scene: Scene, _role: str) -> Request:
        return "POST", f"/objects/{scene.about.pk}/display/{kind}/{scene.shown[kind]}/take-back", WHY

    return made


def _outcome(body: Any, field: str, more: str = "") -> Callable[[Scene, str], Request]:
    """A request that names the outcome that stands."""

    def made(scene: Scene, role: str) -> Request:
        return _at("POST", f"{VISIT}/outcomes{more}", {**body, field: scene.outcome.pk})(scene, role)

    return made


def _plan_soak(scene: Scene, _role: str) -> Request:
    """A plan that takes the place of the one that stands."""
    channel = {"name": "B", "quantity": "voltage", "low": 4.5, "high": None}
    told = {"hours": 8, "state": "bench", "supersedes": scene.soak.pk, "channels": [channel]}
    return _at("POST", f"{VISIT}/soak/plans", told)(scene, "")


VISIT, PROPOSAL = "/objects/{object}/visits/{visit}", "/objects/{object}/proposals/{proposal}"
WHY = {"why": "it was a mistake"}
_CALLS: dict[str, Callable[[Scene, str], Request]] = {
    "get-description": _at("GET", "/openapi.json"),
    "get-me": _at("GET", "/me"),
    "list-people": _at("GET", "/people"),
    "add-person": _at("POST", "/people", {"login": "new one", "roles": ["reader"], "password": PASSWORD}),
    "get-person": _at("GET", "/people/{person}"),
    "set-roles": _at("POST", "/people/{person}/roles", {"roles": ["recorder"]}),
    "set-door": _at("POST", "/people/{person}/door", {"is_active": False, "why": "left"}),
    "set-password": _at("POST", "/people/{person}/password", {"password": PASSWORD[::-1]}),
    "erase-person": _erase,
    "list-objects": _at("GET", "/objects?words=step&limit=5"),
    "receive-object": _at("POST", "/objects", {"number": "HC 0500", "name": "Quillet organ", "board": "ladder"}),
    "get-object": _at("GET", "/objects/{object}"),
    "change-object": _at("PATCH", "/objects/{object}", {"edition": 1, "why": "it was moved", "location": "shelf 4"}),
    "list-object-editions": _at("GET", "/objects/{object}/editions"),
    "list-statements": _at("GET", "/objects/{object}/statements?all=true"),
    "add-statement": _at("POST", "/objects/{object}/statements", {
        "kind": "diagnosis", "text": "A label says R2.", "source": "a label", "reliability": 0.5, "part": "R2",
        "mode": "open", "visit": 1,
    }),
    "get-statement": _at("GET", "/objects/{object}/statements/{statement}"),
    "supersede-statement": _at("POST", "/objects/{object}/statements/{statement}/supersede", {
        "kind": "note", "text": "It hums at 100 Hz.",
    }),
    "take-statement-back": _at("POST", "/objects/{object}/statements/{statement}/take-back", WHY),
    "list-files": _at("GET", "/objects/{object}/files?visit=1"),
    "bring-file": _at("POST", "/objects/{object}/files?name=note.txt&kind=document&visit=1&entry=1&proposal=1",
                      b"what the label says"),
    "get-file": _at("GET", "/objects/{object}/files/{file}"),
    "fetch-file": _at("GET", "/objects/{object}/files/{file}/content"),
    "take-file-away": _at("POST", "/objects/{object}/files/{file}/take-away", WHY),
    "list-visits": _at("GET", "/objects/{object}/visits"),
    "open-visit": _at("POST", "/objects/{object}/visits", {"reason": "again", "edition": 1, "instruments": ["dmm"]}),
    "get-visit": _at("GET", VISIT),
    "change-visit": _at("POST", f"{VISIT}/events", {"kind": "closed", "why": "enough for today"}),
    "list-entries": _at("GET", f"{VISIT}/entries"),
    "add-reading": _at("POST", f"{VISIT}/entries", {"after": 1, "point": "B", "value": "10k", "quantity": "resistance",
                                                   "state": "off", "doubtful": True}),
    "add-readings": _at("POST", f"{VISIT}/entries/several", {"after": 1, "readings": [
        {"point": "B", "value": "10k", "quantity": "resistance", "state": "off"}, {"point": "R1", "value": "burnt"},
    ]}),
    "skip-test": _at("POST", f"{VISIT}/entries/skip", {"after": 1, "point": "R1", "quantity": "look", "state": "off"}),
    "undo-entry": _at("POST", f"{VISIT}/entries/undo", {"after": 1, "entry": 1}),
    "get-gate": _at("GET", f"{VISIT}/power"),
    "record-check": _check,
    "open-gate": _at("POST", f"{VISIT}/power/gate", {"after": 1, "means": "waived", "why": "a bench supply of 5 V"}),
    "look-at-bench": _at("GET", f"{VISIT}/bench"),
    "get-soak": _at("GET", f"{VISIT}/soak"),
    "plan-soak": _plan_soak,
    "record-soak": _at("POST", f"{VISIT}/soak/findings", {"failures": 1, "words": "a pop", "supersedes": None}),
    "list-proposals": _at("GET", "/objects/{object}/proposals"),
    "propose-work": _at("POST", "/objects/{object}/proposals", WORK),
    "get-proposal": _at("GET", PROPOSAL),
    "change-proposal": _at("POST", f"{PROPOSAL}/versions", WORK),
    "answer-proposal": _answer,
    "withdraw-proposal": _at("POST", f"{PROPOSAL}/withdraw", WHY),
    "list-repairs": _at("GET", "/objects/{object}/repairs"),
    "record-repair": _at("POST", "/objects/{object}/repairs", {
        "act": "replaced", "grade": 3, "words": "put in another", "part": "R3", "visit": 1, "entry": 1,
        "removed": {"words": "brown black orange", "original": None, "place": "drawer 2"},
    }),
    "make-safe": _at("POST", "/objects/{object}/made-safe", {"grade": 6, "words": "cut the cell out", "removed": {}}),
    "list-parts": _at("GET", "/objects/{object}/parts"),
    "get-part": _at("GET", "/objects/{object}/parts/{part}"),
    "move-part": _at("POST", "/objects/{object}/parts/{part}/moves", {"disposition": "kept as a sample"}),
    "list-outcomes": _at("GET", f"{VISIT}/outcomes"),
    "note-outcome": _outcome(
        {"found": "parts were faulty", "works": "works again", "parts": ["R1:open"]}, "supersedes"
    ),
    "take-outcome-back": _outcome(WHY, "outcome", "/take-back"),
    "get-learned": _at("GET", "/learned?age=40-50"),
    "list-lessons": _at("GET", "/learned/lessons?limit=5"),
    "learn": _at("POST", "/learned/jobs"),
    "withdraw-lesson": _at("POST", "/learned/lessons/{lesson}/withdraw", WHY),
    "list-sharers": _at("GET", "/sharing/keys"),
    "know-sharer": _at("POST", "/sharing/keys", {"name": "harbour", "key": "5" * 64, "trust": 0.5}),
    "get-display": _at("GET", "/display"),
    "forecast-display": _at("POST", "/display/forecasts", {"years": 2}),
    "list-display-periods": _at("GET", "/objects/{object}/display/periods?all=true"),
    "add-display-periods": _at("POST", "/objects/{object}/display/periods", {
        "begin": "2026-01-02", "place": "hall", "conditions": "no window", "hours_a_week": 12.5, "warmth": None,
    }),
    "take-display-periods-back": _shown("periods"),
    "list-running": _at("GET", "/objects/{object}/display/running"),
    "add-running": _at("POST", "/objects/{object}/display/running", {
        "kind": "ran", "day": "2025-06-07", "first": "2025-06-01", "hours": 30, "switch_ons": 7, "words": "a busy week",
    }),
    "take-running-back": _shown("running"),
    "list-inspections": _at("GET", "/objects/{object}/display/inspections"),
    "add-inspections": _at("POST", "/objects/{object}/display/inspections", {
        "key": "electrical", "day": "2025-06-07", "outcome": "something found", "words": "a frayed lead",
        "again": "2025-07-01",
    }),
    "take-inspections-back": _shown("inspections"),
    "list-wear": _at("GET", "/objects/{object}/display/wear"),
    "add-wear": _at("POST", "/objects/{object}/display/wear", {"kind": "belt", "count": 3}),
    "take-wear-back": _shown("wear"),
    "list-renewals": _at("GET", "/objects/{object}/display/renewals"),
    "add-renewals": _at("POST", "/objects/{object}/display/renewals", {
        "kind": "belt", "day": "2025-06-07", "count": 2, "failed": None, "words": "all but one",
    }),
    "take-renewals-back": _shown("renewals"),
    "list-boards": _at("GET", "/boards"),
    "keep-board": _at("POST", "/boards", {"key": "ladder", "main": "ladder.toml", "files": KEPT, "why": "a comment"}),
    "get-board": _at("GET", "/boards/{board}"),
    "list-board-editions": _at("GET", "/boards/{board}/editions"),
    "get-board-edition": _at("GET", "/boards/{board}/editions/{edition}"),
    "fetch-board-file": _at("GET", "/boards/{board}/editions/{edition}/file?name=ladder.cir"),
    "list-jobs": _at("GET", "/jobs?state=waiting"),
    "get-job": _at("GET", "/jobs/{job}"),
    "start-job": _at("POST", f"{VISIT}/jobs", {"kind": "thorough diagnosis"}),
    "stop-job": _at("POST", "/jobs/{job}/stop"),
    "get-journal-head": _at("GET", "/journal/head"),
    "list-journal": _at("GET", "/journal?after=1&limit=3"),
}  # fmt: skip
NAMES = tuple(_CALLS)


def send(scene: Scene, role: str, request: Request) -> Any:
    """The answer to such a request."""
    method, path, body = request
    if isinstance(body, bytes):
        return scene.ask(role, method, path, raw=body, kind="application/octet-stream")
    return scene.ask(role, method, path, body)
