"""Board check: circuits with a known defect, judged by circuit theory and by ngspice's own refusal."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.circuit.board import Block, Board, Point
from kilter.circuit.check import check_board
from kilter.circuit.finding import Finding
from kilter.importers.load import load_board
from kilter.parts.kinds import modes_of
from kilter.records.part import Part


def findings(folder: Path, text: str) -> list[Finding]:
    (folder / "c.cir").write_text("title\n" + text)
    return list(check_board(load_board(folder / "c.cir"), modes_of))


def about(found: list[Finding], subject: str, words: str) -> list[str]:
    return [finding.level for finding in found if finding.subject == subject and words in finding.words]


SOUND = "V1 in 0 9\nR1 in out 1k\nR2 out 0 1k\n"


def test_a_sound_circuit_has_no_finding(tmp_path: Path) -> None:
    assert findings(tmp_path, SOUND) == []


# Loops of voltage sources have no solution or no unique one (Kirchhoff's voltage law).
@pytest.mark.parametrize(
    ("line", "subject", "level"),
    [("V2 in 0 5", "V2", "wrong"), ("E1 in 0 out 0 1", "E1", "wrong"), ("L1 in 0 1m", "L1", "doubt"),
     ("V2 out out 1", "V2", "wrong")],
)  # fmt: skip
def test_source_loops(tmp_path: Path, line: str, subject: str, level: str) -> None:
    assert about(findings(tmp_path, f"{SOUND}{line}\n"), subject, "closes a loop") == [level]


# A net that only capacitors or current sources join has no determined voltage at DC.
@pytest.mark.parametrize("line", ["C1 out x 1n\nC2 x 0 1n", "I1 0 x 1m\nC2 x 0 1n", "G1 x 0 out 0 1m\nC2 x 0 1n"])
def test_nets_without_a_path(tmp_path: Path, line: str) -> None:
    assert about(findings(tmp_path, f"{SOUND}{line}\n"), "x", "path to ground") == ["doubt"]


def test_a_path_through_a_junction_counts(tmp_path: Path) -> None:
    assert not about(findings(tmp_path, f"{SOUND}D1 out x d\nC2 x 0 1n\n.model d d\n"), "x", "path to ground")


def test_ends_and_missing_ground(tmp_path: Path) -> None:
    assert about(findings(tmp_path, f"{SOUND}R3 out x 1k\n"), "x", "one pin R3.2") == ["doubt"]
    assert about(findings(tmp_path, "V1 a b 1\nR1 a b 1\n"), "0", "ground") == ["wrong"]
    assert any("no source" in finding.words for finding in findings(tmp_path, "R1 a 0 1\nR2 a 0 1\n"))


def test_what_the_importer_said_is_repeated(tmp_path: Path) -> None:
    found = findings(tmp_path, f"{SOUND}B1 x 0 v=1\nC1 out 0 100u\n")
    assert any(finding.level == "doubt" and "B1" in finding.words for finding in found)
    assert any(finding.level == "note" and "C1 is taken" in finding.words for finding in found)
    levels = [finding.level for finding in found]
    assert levels == sorted(levels, key=["wrong", "doubt", "note"].index)


def test_blocks_and_points() -> None:
    blocks = {
        "a": Block("a", "divider", ("U1",), inputs={"in": "nowhere"}, outputs={"out": "s"}),
        "b": Block("b", "buffer", ("U2",), inputs={"in": "s"}, outputs={"out": "s"}),
    }
    parts = {ref: Part(ref, "chip", {}) for ref in ("U1", "U2", "U3")}
    board = Board("b", parts=parts, blocks=blocks, points={"TP": Point("TP", "void"), "s": Point("s", "s")})
    found = list(check_board(board))
    assert about(found, "a", "Nothing drives nowhere") == ["doubt"]
    assert about(found, "s", "output of 2 blocks") == ["doubt"]
    assert about(found, "TP", "void") == ["wrong"]
    assert about(found, "U3", "no element and no block") == ["doubt"]
    assert any("No state is powered" in finding.words for finding in found)


def test_an_empty_board() -> None:
    levels = [finding.level for finding in check_board(Board("empty"))]
    assert levels.count("wrong") == 2


def test_a_part_without_modes_is_found() -> None:
    board = Board("b", parts={"R1": Part("R1", "resistor", {"1": "a", "2": "0"})})
    assert about(list(check_board(board, lambda _: ())), "R1", "no failure mode") == ["wrong"]
