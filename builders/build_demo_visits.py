"""
Writes the readings files of the demonstration visits, and the board file of visit c with the label on its object.

    python builders/build_demo_visits.py

Nothing is made up by hand but the order of probing: an object gets its own part values by chance, the faults of
tests/demo/truth.toml are built into its netlist, ngspice finds every voltage, the block model every word and frequency,
and a meter's error and display do the rest. Seeds are fixed, so the same files come out. Needs the ngspice library.
"""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from demo_object import DemoObject
from kilter.importers.load import load_board
from kilter.measure.quantities import quantity
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.visit_states import Deeds
from kilter.simulate.ngspice import NgspiceWorker

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "src" / "kilter" / "data" / "demo"
TRUTH = ROOT / "tests" / "demo" / "truth.toml"

Step = tuple[str, str, str, str, str]
"""Point, quantity, instrument, state and note; for what was done: part, 'done', word, '', note."""

HEADER = ("point", "quantity", "value", "uncertainty", "instrument", "state", "note")

FIRST_LOOK: list[Step] = [
    ("V1", "current", "supply meter", "bench", ""),
    ("pilot", "light", "eye", "bench", ""),
    ("picture", "picture", "eye", "bench", ""),
    ("sound", "sound", "ear", "bench", ""),
    ("RAW", "voltage", "dmm", "bench", ""),
    ("V5", "voltage", "dmm", "bench", ""),
    ("V9", "voltage", "dmm", "bench", ""),
]

STEPS: dict[str, list[list[Step]]] = {
    "a": [
        [
            *FIRST_LOOK,
            ("tone", "frequency", "counter", "bench", "the tone arrives"),
            ("OUT", "voltage", "dmm", "bench", "from the loudspeaker backwards"),
            ("COLL1", "voltage", "dmm", "bench", ""),
            ("EMIT1", "voltage", "dmm", "bench", ""),
            ("BASE1", "voltage", "dmm", "bench", ""),
            ("VOL", "voltage", "dmm", "bench", "no direct voltage on the volume control"),
            ("BASE1", "resistance", "dmm", "off", ""),
        ]
    ],
    "b": [
        [*FIRST_LOOK, ("FUSED", "voltage", "dmm", "bench", ""), ("LED", "voltage", "dmm", "bench", "")],
        [
            ("U1", "done", "renewed", "", "new regulator, the old one kept in a bag with its number"),
            *FIRST_LOOK,
            ("clk", "frequency", "counter", "bench", ""),
            ("phi", "level", "logic probe", "bench", ""),
            ("phi", "frequency", "counter", "bench", ""),
            ("rst", "level", "logic probe", "bench", ""),
        ],
        [
            ("U3", "done", "renewed", "", "swapped in its socket"),
            ("phi", "frequency", "counter", "bench", ""),
            ("sound", "sound", "ear", "bench", ""),
            ("picture", "picture", "eye", "bench", ""),
            ("rst", "voltage", "dmm", "bench", ""),
            ("TIMING", "voltage", "dmm", "bench", ""),
            ("RC1", "voltage", "dmm", "bench", ""),
            ("TIMING", "resistance", "dmm", "off", ""),
        ],
    ],
    "c": [
        [
            *FIRST_LOOK,
            ("rst", "level", "logic probe", "bench", ""),
            ("phi", "frequency", "counter", "bench", ""),
            ("abus", "level", "logic probe", "bench", "the processor does move its lines"),
            ("dbus", "level", "logic probe", "bench", ""),
            ("iosel", "level", "logic probe", "bench", ""),
            ("digits", "level", "logic probe", "bench", ""),
            ("digits", "activity", "logic probe", "bench", ""),
            ("scan", "level", "logic probe", "bench", ""),
            ("scan", "activity", "logic probe", "bench", ""),
            ("romsel", "level", "logic probe", "bench", ""),
            ("ramsel", "level", "logic probe", "bench", ""),
            ("dbus", "activity", "logic probe", "bench", ""),
        ]
    ],
}

STORIES = {
    "a": "Visit a. Silent, but the digits are right.",
    "b": "Visit b. Nothing at all: no lamp, no digits, no sound.",
    "c": "Visit c. Sound, but no digits; an old label blames the processor (see c.toml).",
}

FIRST_LINE = "# Made by builders/build_demo_visits.py: board.toml with the history of one object at its end.\n#\n"

HISTORY = """
# ---- What came with this one object ----------------------------------------------------------------------------------
# A diagnosis somebody once wrote down is evidence, as far as it can be relied on; half and half here.

[history]
labels = [
  { says = "U6", mode = "dead", reliability = 0.5, text = "sticker inside the lid: 'processor dead, find another'" },
]
"""


def visit_texts(name: str, visit: dict[str, Any], worker: NgspiceWorker) -> dict[str, str]:
    """The files of one visit by name: each stage, and the whole where there are several."""
    board = load_board(DEMO)
    found = DemoObject(board, frozenset((ref, mode) for ref, mode in visit["faults"]), worker, visit["seed"])
    deeds, rows, texts = Deeds(), [], {}
    for steps, stage in zip(STEPS[name], visit["stages"], strict=True):
        for step in steps:
            row, deeds = _row(found, step, deeds)
            rows.append(row)
        texts[stage["file"]] = texts[f"{name}.csv"] = _text(STORIES[name], rows)
    return texts


def _row(found: DemoObject, step: Step, deeds: Deeds) -> tuple[Sequence[str], Deeds]:
    point, what, tool, state, note = step
    if what == "done":
        return (point, what, tool, "", "", "", note), deeds.after(Reading(point, what, None, tool))
    key = "_".join(tool.split())
    test = Test(point, what, state, key)
    value = found.read(test, deeds.applied_to(found.board.state(state)))
    return (point, what, value, "", tool if quantity(what).numeric else "", state, note), deeds


def _text(story: str, rows: Sequence[Sequence[str]]) -> str:
    """A readings file; its first line tells what the visitor was told."""
    text = io.StringIO()
    text.write(f"# {story} Simulated: see builders/build_demo_visits.py.\n")
    csv.writer(text, lineterminator="\n").writerows([HEADER, *rows])
    return text.getvalue()


def labelled_board_text() -> str:
    """The board file of visit c: that of the type, and what came with the one object."""
    return FIRST_LINE + (DEMO / "board.toml").read_text("utf-8") + HISTORY


def visits() -> dict[str, dict[str, Any]]:
    """What is wrong with each visit's object."""
    found: dict[str, dict[str, Any]] = tomllib.loads(TRUTH.read_text("utf-8"))["visits"]
    return found


def main() -> None:
    """Write everything."""
    (DEMO / "c.toml").write_text(labelled_board_text(), "utf-8")
    with NgspiceWorker() as worker:
        for name, visit in visits().items():
            for file, text in visit_texts(name, visit, worker).items():
                (DEMO / file).write_text(text, "utf-8")


if __name__ == "__main__":
    main()
