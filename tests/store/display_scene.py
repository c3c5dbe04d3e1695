"""An object on display, with a row in every table that tells of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from record_scene import Scene

from kilter.store.models import Person
from kilter.store.verbs.inspections import Inspected, take_inspection_back, write_inspection
from kilter.store.verbs.running import METER, Ran, take_running_back, write_running
from kilter.store.verbs.showings import Showing, show, take_showing_back
from kilter.store.verbs.wearing import (
    Renewal,
    set_wearing,
    take_renewal_back,
    take_wearing_back,
    write_renewal,
)

MAY, JUNE = date(2025, 5, 1), date(2025, 6, 1)


def display_fill(scene: Scene) -> None:
    """A row in every table of the display."""
    one = scene.an_object("HC 0620")
    show(scene.who("registrar"), one, Showing(MAY, place="hall"))
    write_running(scene.who("recorder"), one, Ran(METER, MAY, hours=10.0))
    write_inspection(scene.who("recorder"), one, Inspected("dust", MAY, "nothing found"))
    set_wearing(scene.who("repairer"), one, "belt", 3)
    write_renewal(scene.who("repairer"), one, Renewal("belt", MAY, 3, 2))


def a_row(scene: Scene, kind: str) -> Any:
    """A standing row about another object, by the name of its table."""
    one, recorder, repairer = scene.an_object("HC 0621"), scene.who("recorder"), scene.who("repairer")
    made: dict[str, Callable[[], Any]] = {
        "period": lambda: show(repairer, one, Showing(MAY)),
        "running": lambda: write_running(recorder, one, Ran(METER, MAY, hours=10.0)),
        "inspection": lambda: write_inspection(recorder, one, Inspected("dust", MAY, "nothing found")),
        "wearing": lambda: set_wearing(repairer, one, "belt", 3),
        "renewal": lambda: write_renewal(repairer, one, Renewal("belt", MAY, 3)),
    }
    return made[kind]()


DEEDS: dict[str, tuple[str, Callable[[Scene, Person], Any]]] = {
    "show": ("put on display", lambda s, one: show(one, s.an_object(), Showing(MAY))),
    "take_showing_back": ("put on display", lambda s, one: take_showing_back(one, a_row(s, "period"), "never")),
    "set_wearing": ("put on display", lambda s, one: set_wearing(one, s.an_object(), "belt", 3)),
    "take_wearing_back": ("put on display", lambda s, one: take_wearing_back(one, a_row(s, "wearing"), "miscounted")),
    "write_running": (
        "keep count on display", lambda s, one: write_running(one, s.an_object(), Ran(METER, MAY, hours=1.0))
    ),
    "take_running_back": (
        "keep count on display", lambda s, one: take_running_back(one, a_row(s, "running"), "misread")
    ),
    "write_inspection": (
        "keep count on display",
        lambda s, one: write_inspection(one, s.an_object(), Inspected("dust", MAY, "nothing found")),
    ),
    "take_inspection_back": (
        "keep count on display", lambda s, one: take_inspection_back(one, a_row(s, "inspection"), "another object")
    ),
    "write_renewal": ("record a repair", lambda s, one: write_renewal(one, s.an_object(), Renewal("belt", MAY, 3))),
    "take_renewal_back": (
        "record a repair", lambda s, one: take_renewal_back(one, a_row(s, "renewal"), "they were cleaned")
    ),
}
"""Every verb of the display with what it needs, for the test of who may."""
