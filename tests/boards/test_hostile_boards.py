"""Damaged files of every board format: read, or refused with a message in four parts; never another error or slow."""

from __future__ import annotations

import time
from pathlib import Path

import drawings
import drawn
import layouts
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kilter.circuit.board import Board
from kilter.circuit.check import check_board
from kilter.importers.load import load_board
from kilter.importers.sexpr import DEEPEST
from kilter.measure.errors import BadInput

SECONDS = 60.0
FUZZ = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
BOARDS = {
    "old.kicad_pcb": layouts.sexpr(4), "new.kicad_pcb": layouts.sexpr(20250513),
    "text.brd": layouts.legacy(millimetres=True), "xml.brd": layouts.xml(), "xml.sch": layouts.xml_schematic(),
    "records.d356": layouts.records(),
}  # fmt: skip
SHREDS = ['"', "(", ")", "<", ">", "&", "\n", "nan", "-1", "9" * 30, "\\", "{", "[0..99999]", "é", "\0", "1e999"]


@st.composite
def damaged(draw: st.DrawFn, text: str) -> str:
    """The text with a few places cut out, doubled, exchanged or overwritten."""
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, max(0, len(text) - 1)))
        size = draw(st.integers(1, 60))
        piece = text[at : at + size]
        change = draw(st.sampled_from(["cut", "double", "words", "number", "end"]))
        new = {"cut": "", "double": piece + piece, "end": ""}.get(change)
        if new is None:
            new = draw(st.sampled_from(SHREDS)) if change == "words" else str(draw(st.integers(-10**12, 10**12)))
        text = text[:at] if change == "end" else text[:at] + new + text[at + size :]
    return text


def attempt(path: Path) -> Board | None:
    """The board, or None where it is refused as it should be."""
    started = time.monotonic()
    board, refusal = None, None
    try:
        board = load_board(path)
        check_board(board)
    except BadInput as error:
        refusal = error
    assert time.monotonic() - started < SECONDS
    parts = (refusal.doing, refusal.found, refusal.allowed, refusal.do_next) if refusal else ()
    assert all(part.strip() for part in parts)
    return board


@pytest.mark.parametrize("name", list(BOARDS))
def test_the_sound_files_are_sound(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text(BOARDS[name])
    assert attempt(tmp_path / name) is not None


@FUZZ
@given(data=st.data(), name=st.sampled_from(list(BOARDS)))
def test_damaged_boards(tmp_path: Path, data: st.DataObject, name: str) -> None:
    (tmp_path / name).write_text(data.draw(damaged(BOARDS[name])), "utf-8", "surrogatepass")
    attempt(tmp_path / name)


@FUZZ
@given(data=st.data(), kind=st.sampled_from(["sexpr", "legacy", "library"]), which=st.sampled_from(["sheets", "part"]))
def test_damaged_schematics(tmp_path: Path, data: st.DataObject, kind: str, which: str) -> None:
    sheets, uses = drawings.sheets()
    if kind == "sexpr":
        path = drawn.write_sexpr(tmp_path, sheets, 20231120, uses=uses)
        victim = tmp_path / f"{which}.kicad_sch"
    else:
        path = drawn.write_legacy(tmp_path, sheets, uses=uses)
        victim = tmp_path / ("sheets-cache.lib" if kind == "library" else f"{which}.sch")
    victim.write_text(data.draw(damaged(victim.read_text())), "utf-8", "surrogatepass")
    attempt(path)


@pytest.mark.parametrize(("name", "text"), [
    ("a.kicad_pcb", "(kicad_pcb " + "(" * (DEEPEST + 5)), ("a.kicad_pcb", '(kicad_pcb "'),
    ("a.kicad_pcb", "(kicad_pcb))"), ("a.kicad_pcb", ""), ("a.brd", "<design>" * 500),
    ("a.brd", "<design"), ("a.brd", "PCBNEW-BOARD\n$MODULE x\n"),
    ("a.d356", "P  UNITS CUST 9\n317GND              R1    -1    D0400PA00X+00Y+00\n999"),
    ("a.d356", "317GND              R1    -1    D0400PA00\n999\n"),
])  # fmt: skip
def test_cut_short_or_nonsense(tmp_path: Path, name: str, text: str) -> None:
    (tmp_path / name).write_text(text)
    with pytest.raises(BadInput, match=r"line \d+"):
        load_board(tmp_path / name)


def test_a_board_of_seven_megabytes_is_read(tmp_path: Path) -> None:
    """The limit only tells a reader that does not end: half a second was measured on an idle machine."""
    track = '(segment (start {0}.5 20.25) (end {0}.5 30.75) (width 0.25) (layer "F.Cu") (net 1) (tstamp 0a1b2c3d))\n'
    copper = "".join(track.format(number % 100) for number in range(72_000))
    text = layouts.sexpr(20211014)
    (tmp_path / "large.kicad_pcb").write_text(text[:-1] + copper + ")")
    assert (tmp_path / "large.kicad_pcb").stat().st_size > 7_000_000
    started = time.process_time()
    board = load_board(tmp_path / "large.kicad_pcb")
    assert time.process_time() - started < 30
    assert len(board.parts) == 5
