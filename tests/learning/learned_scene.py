"""An invented record whose visits teach: two dividers and a capacitor, read, mended and closed by the verbs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from record_scene import Scene, first_person

from kilter.importers.reading_lines import reading_of
from kilter.services.visit_log import READ
from kilter.store.models import BoardEdition, CollectionObject, Person, Visit, VisitOutcome
from kilter.store.verbs.boards import keep_board
from kilter.store.verbs.repairs import record_repair
from kilter.store.verbs.visits import add_entry, open_visit, set_visit
from kilter.wiring.record_bench import board_of
from kilter.wiring.record_outcome import confirm_outcome

CIRCUIT = """* two dividers
V1 v 0 10
R1 v a 10k
R2 a 0 10k
C1 a 0 10u
.end
"""
BOARD = """kilter = 1
board = "Two dividers"
netlist = "board.cir"
[parts.C1]
kind = "electrolytic"
"""
LEAK = (("R1", "10.2 kohm"), ("a", "210 ohm"), ("a", "205 ohm"))
"""Point and resistance, power off: the capacitor leaks."""


@dataclass
class Lessons:
    """The scene with a board, and objects made one after another."""

    scene: Scene
    edition: BoardEdition
    objects: list[CollectionObject] = field(default_factory=list)

    @property
    def repairer(self) -> Person:
        """Who works at the bench."""
        return self.scene.who("repairer")

    def an_object(self, **more: Any) -> CollectionObject:
        """Another one with the board, 43 years old."""
        told = {"made": f"about {datetime.now(UTC).year - 43}", "board": self.edition.board, **more}
        self.objects.append(self.scene.an_object(f"HC {700 + len(self.objects)}", **told))
        return self.objects[-1]

    def a_visit(
        self, about: CollectionObject | None = None, read: Sequence[tuple[str, str]] = LEAK, **more: Any
    ) -> Visit:
        """An open one with readings."""
        visit = open_visit(self.repairer, about or self.an_object(), "no sound", **more)
        for point, value in read:
            self.add(visit, point=point, quantity="resistance", value=value, state="off")
        return visit

    def add(self, visit: Visit, **words: str) -> None:
        """One more line."""
        board = board_of(self.edition)
        reading = reading_of(words, "this line", board, "Cannot take this reading")
        add_entry(self.repairer, visit, READ, words, reading, after=visit.entries.count())

    def mended(self, about: CollectionObject | None = None, **more: Any) -> Visit:
        """Read, C1 renewed, recorded, closed, and said to work."""
        visit = self.a_visit(about, **more)
        self.add(visit, point="C1", quantity="done", value="renewed")
        record_repair(self.repairer, visit.object, "replaced", 4, "a new one of 10 µF", part="C1", visit=visit)
        self.end(visit, ["C1:leak"])
        set_visit(self.repairer, visit, "closed")
        return visit

    def end(self, visit: Visit, parts: Sequence[str], works: str = "works again", **more: Any) -> VisitOutcome:
        """Says how it ended."""
        found = "parts were faulty" if parts else "no part was faulty"
        return confirm_outcome(self.repairer, visit, found, parts, works, **more)


def make_lessons() -> Lessons:
    """The scene."""
    scene = first_person()
    files = {"board.toml": BOARD.encode(), "board.cir": CIRCUIT.encode()}
    return Lessons(scene, keep_board(scene.who("repairer"), "dividers", "Two dividers", "board.toml", files))
