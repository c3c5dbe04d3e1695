"""
The demonstration visits: the files are those that the builder makes, and the readings lead to what was built in.

Authority: tests/demo/truth.toml, the faults that builders/build_demo_visits.py put into the netlist before ngspice made
the readings; the diagnosis never sees it.
"""

from __future__ import annotations

import tomllib
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from kilter.importers.load import load_board, load_readings
from kilter.parts.kinds import modes_of
from kilter.services.diagnose import Diagnosis, diagnose
from kilter.simulate.ngspice import NgspiceWorker

VISITS = tomllib.loads((Path(__file__).parent / "truth.toml").read_text("utf-8"))["visits"]
STAGES = [(name, stage) for name, visit in VISITS.items() for stage in visit["stages"]]
BOARDS = {"c": "c.toml"}
"""Board files of visits whose object came with a history; the others use board.toml."""


@cache
def diagnosed(folder: Path, file: str, board_file: str) -> Diagnosis:
    board = load_board(folder / board_file)
    return diagnose(board, load_readings(folder / file, board))


@pytest.mark.parametrize(("name", "stage"), STAGES, ids=lambda value: value["file"] if isinstance(value, dict) else "")
def test_the_readings_lead_to_the_culprit(folder: Path, name: str, stage: dict[str, str]) -> None:
    """First of the suspects, or in one tie with the first."""
    found = diagnosed(folder, stage["file"], BOARDS.get(name, "board.toml"))
    first = max(found.suspects, key=lambda suspect: suspect.probability).part
    tied = next((set(group) for group in found.ties if first in group), {first})
    assert stage["culprit"] in tied


@pytest.mark.parametrize("name", VISITS)
def test_renewed_parts_are_suspects_no_more(folder: Path, name: str) -> None:
    stages = VISITS[name]["stages"]
    found = diagnosed(folder, stages[-1]["file"], BOARDS.get(name, "board.toml"))
    renewed = {stage["culprit"] for stage in stages[:-1]}
    assert renewed.isdisjoint(suspect.part for suspect in found.suspects)


def test_the_readings_overrule_the_label(folder: Path) -> None:
    """The label raises the processor before anything is read; the readings leave it far behind the latch."""
    label = load_board(folder / "c.toml").history.labels[0]
    shares = {suspect.part: suspect.probability for suspect in diagnosed(folder, "c.csv", "c.toml").suspects}
    assert label.part == "U6"
    assert shares.get(label.part, 0.0) < 0.05 < 0.5 < shares[VISITS["c"]["stages"][0]["culprit"]]


@pytest.mark.parametrize("name", VISITS)
def test_truth_names_modes_that_there_are(folder: Path, name: str) -> None:
    board = load_board(folder)
    faults = VISITS[name]["faults"]
    assert all(mode in {m.key for m in modes_of(board.parts[ref])} for ref, mode in faults)
    assert {ref for ref, _ in faults} == {stage["culprit"] for stage in VISITS[name]["stages"]}


@pytest.mark.parametrize("name", VISITS)
def test_stages_grow(folder: Path, name: str) -> None:
    """Each stage holds all lines of the one before, and the visit's own file is the last."""
    texts = [(folder / stage["file"]).read_text("utf-8") for stage in VISITS[name]["stages"]]
    assert all(later.startswith(earlier) for earlier, later in pairwise(texts))
    assert (folder / f"{name}.csv").read_text("utf-8") == texts[-1]


@pytest.mark.usefixtures("builders")
class TestBuilder:
    def test_labelled_board_is_the_board_with_its_history(self, folder: Path) -> None:
        from build_demo_visits import labelled_board_text

        assert (folder / "c.toml").read_text("utf-8") == labelled_board_text(), "run builders/build_demo_visits.py"

    @pytest.mark.ngspice
    @pytest.mark.parametrize("name", VISITS)
    def test_files_are_those_that_it_makes(self, folder: Path, worker: NgspiceWorker, name: str) -> None:
        from build_demo_visits import visit_texts, visits

        for file, text in visit_texts(name, visits()[name], worker).items():
            assert (folder / file).read_text("utf-8") == text, "run builders/build_demo_visits.py"
