"""A visit with the plan of a soak, a log and what was found in it."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

from record_scene import Scene

from kilter.services.tell_soak import told_soak
from kilter.store.models import Filing, Person, SoakFinding, SoakPlan, Visit
from kilter.store.models.attachment import SOAK_LOG
from kilter.store.verbs.files import attach
from kilter.store.verbs.soaks import plan_soak_of, record_soak_finding
from kilter.wiring.record_soak import judged

CHANNELS = [{"name": "V5", "quantity": "voltage", "low": 4.75, "high": 5.25, "why": "band of the rail"}]


def minutes(volts: list[float]) -> bytes:
    """A log of one value a minute."""
    rows = [f"{at},{value:.4f}" for at, value in enumerate(volts)]
    return "\n".join(["time (min),V5 (V)", *rows, ""]).encode()


def a_plan(scene: Scene, visit: Visit | None = None, actor: Person | None = None) -> SoakPlan:
    return plan_soak_of(actor or scene.who("recorder"), visit or scene.a_visit(), 24.0, CHANNELS)


def a_log(scene: Scene, visit: Visit, content: bytes = b"") -> Filing:
    volts = minutes([5.0 + at % 3 / 1000 for at in range(200)])
    return attach(scene.who("recorder"), BytesIO(content or volts), "day 1.csv", SOAK_LOG, "text/plain", visit=visit)


def a_finding(scene: Scene, plan: SoakPlan, actor: Person | None = None, **more: Any) -> SoakFinding:
    log = a_log(scene, plan.visit)
    told = told_soak(judged(plan, [log], more.get("failures", 0)).found)
    return record_soak_finding(actor or scene.who("recorder"), plan, [log], told, **more)


def soak_fill(scene: Scene) -> None:
    """A row in every table of the soak."""
    a_finding(scene, a_plan(scene, scene.a_visit(scene.an_object("HC 0630"))))


DEEDS: dict[str, tuple[str, Callable[[Scene, Person], Any]]] = {
    "plan_soak_of": ("record at the bench", lambda s, one: a_plan(s, actor=one)),
    "record_soak_finding": ("record at the bench", lambda s, one: a_finding(s, a_plan(s), one)),
}
"""Every verb of the soak with what it needs, for the test of who may."""
