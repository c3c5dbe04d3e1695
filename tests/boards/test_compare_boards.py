"""Descriptions of one board compared: what differs is said, spelling is not. Expected values by construction."""

from __future__ import annotations

from pathlib import Path

import layouts
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilter.importers.compare_boards import Sort, compare
from kilter.importers.description import Connection, DescribedPart, Description
from kilter.importers.formats import describe
from kilter.importers.load import load_board
from kilter.measure.errors import BadInput


def described(pins: dict[str, str], values: dict[str, str] | None = None, file: str = "a") -> Description:
    """A description from 'ref.pin' to net."""
    parts: dict[str, dict[str, Connection]] = {}
    for place, net in pins.items():
        ref, pin = place.split(".")
        parts.setdefault(ref, {})[pin] = Connection(net)
    return Description(file, "test", parts={
        ref: DescribedPart(ref, (values or {}).get(ref, ""), own) for ref, own in parts.items()})  # fmt: skip


SOUND = {"R1.1": "A", "R1.2": "B", "R2.1": "B", "R2.2": "C", "R3.1": "A", "R3.2": "C"}


def test_other_names_are_no_difference() -> None:
    other = {place: f"net {net}" for place, net in SOUND.items()}
    found = compare(described(SOUND), described(other))
    assert (found.compared, found.agreeing, found.differences) == (6, 6, ())


def test_a_split_net_and_a_joined_one() -> None:
    other = SOUND | {"R3.1": "D"}
    found = compare(described(SOUND), described(other, file="b"))
    assert found.agreeing == 4
    assert [one.sort for one in found.differences] == [Sort.SPLIT]
    back = compare(described(other), described(SOUND))
    assert [one.sort for one in back.differences] == [Sort.JOINED]
    assert found.sentences() == ["The net A of a is in b the nets A (R1.1); D (R3.1)."]


def test_parts_values_and_open_pins() -> None:
    values = {"R1": "1k", "R2": "4k7", "R3": "100"}
    other = {place: net for place, net in SOUND.items() if place not in ("R3.2", "R3.1")} | {"R4.1": "C", "R4.2": "A"}
    found = compare(described(SOUND, values), described(other, {"R1": "1.0 kohm", "R2": "5k6"}, "b"))
    assert [(one.sort, one.subject) for one in found.differences] == [
        (Sort.ONLY_FIRST, "R3"), (Sort.ONLY_SECOND, "R4"), (Sort.VALUE, "R2"),
    ]  # fmt: skip
    less = {place: net for place, net in SOUND.items() if place != "R3.2"}
    assert [one.sort for one in compare(described(SOUND), described(less)).differences] == [Sort.PIN]


PLACES = st.sampled_from([f"R{n}.{p}" for n in range(6) for p in (1, 2)])


@given(st.dictionaries(PLACES, st.sampled_from("ABCD"), min_size=1),
       st.dictionaries(PLACES, st.sampled_from("WXYZ"), min_size=1))  # fmt: skip
def test_comparing_back_finds_the_same(first: dict[str, str], second: dict[str, str]) -> None:
    one, other = described(first), described(second, file="b")
    there, back = compare(one, other), compare(other, one)
    assert (there.compared, there.agreeing) == (back.compared, back.agreeing)
    assert len(there.differences) == len(back.differences)
    nets = {Sort.SPLIT, Sort.JOINED}
    assert (there.agreeing == there.compared) == (not any(item.sort in nets for item in there.differences))
    assert len(there.sentences()) == len(there.differences)


def test_formats_of_one_board_do_not_differ(tmp_path: Path) -> None:
    texts = {"a.kicad_pcb": layouts.sexpr(4), "b.kicad_pcb": layouts.sexpr(20250513), "c.brd": layouts.xml(),
             "d.brd": layouts.legacy(millimetres=True), "e.d356": layouts.records()}  # fmt: skip
    read = []
    for name, text in texts.items():
        (tmp_path / name).write_text(text)
        read.append(describe(tmp_path / name))
    for other in read[1:]:
        found = compare(read[0], other)
        assert found.compared == found.agreeing == 12
        assert [one for one in found.differences if one.sort != Sort.VALUE] == []


def test_a_folder_with_several_descriptions(tmp_path: Path) -> None:
    (tmp_path / "amp.brd").write_text(layouts.xml())
    (tmp_path / "amp.sch").write_text(layouts.xml_schematic().replace('value="4k7"', 'value="10k"'))
    board = load_board(tmp_path)
    assert board.source.startswith("amp.brd")
    assert board.parts["R1"].value == "4k7"
    assert board.parts["U1"].value == "74LS14"
    assert board.parts["U1"].kind == "logic"
    assert any("amp.brd is used and amp.sch differs" in warning for warning in board.warnings)
    assert "R1 is '4k7' in amp.brd and '10k' in amp.sch." in board.warnings
    assert any("Values of 1 parts" in guess and "amp.sch" in guess for guess in board.guesses)


def test_a_file_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    (tmp_path / "amp.brd").write_text(layouts.xml())
    (tmp_path / "amp.sch").write_text("EESchema Schematic File Version 4\n$Comp\n")
    assert any("Cannot read amp.sch" in warning for warning in load_board(tmp_path).warnings)


def test_a_folder_of_several_boards_is_refused(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / f"{name}.kicad_pcb").write_text(layouts.sexpr(4))
    with pytest.raises(BadInput, match="several boards: one, two"):
        load_board(tmp_path)
