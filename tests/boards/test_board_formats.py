"""
One board in every board format: parts, values, nets, places and the outline.

Expected values: by construction, the board is made in layouts.py from parts at known places. Columns of IPC-D-356
records and entries of the legacy text board are from memory and from writers of these formats.
"""

from __future__ import annotations

from pathlib import Path

import layouts
import pytest

from kilter.importers.description import Description
from kilter.importers.formats import describe
from kilter.importers.load import load_board, load_layout
from kilter.measure.errors import BadInput

AUTHORITIES = Path(__file__).resolve().parents[2] / "authorities" / "boards"
SEXPR = [3, 4, 20171130, 20211014, 20221018, 20240108, 20241229, 20250513]
TEXTS = {f"sexpr-{version}": (".kicad_pcb", layouts.sexpr(version)) for version in SEXPR} | {
    "legacy-mm": (".brd", layouts.legacy(millimetres=True)),
    "legacy-inch": (".brd", layouts.legacy(millimetres=False)),
    "xml": (".brd", layouts.xml()),
    "records": (".d356", layouts.records()),
}
POSITION_MM = 0.003
"""Rounding to a ten-thousandth of an inch."""


@pytest.fixture(params=list(TEXTS))
def board(request: pytest.FixtureRequest, tmp_path: Path) -> Description:
    ending, text = TEXTS[request.param]
    (tmp_path / f"board{ending}").write_text(text)
    return describe(tmp_path / f"board{ending}")


def test_nets(board: Description) -> None:
    found = {net.upper().lstrip("/"): {f"{ref}.{pin}" for ref, pin in pins} for net, pins in board.nets().items()}
    wanted = {net.upper().lstrip("/"): pins for net, pins in layouts.CONNECTED.items()}
    if not board.has_values:
        wanted = {net.replace("~{", "~").replace("}", ""): pins for net, pins in wanted.items()}
    assert found == wanted


def test_values(board: Description) -> None:
    values = {ref: part.value for ref, part in board.parts.items()}
    if not board.has_values:
        assert set(values.values()) == {""}
        assert any("no values" in warning for warning in board.warnings)
    else:
        assert values == {"R1": "4k7", "C1": "100nF", "U1": "" if "XML" in board.form else "74LS14", "J1": "CONN",
                          "TP1": "TP"}  # fmt: skip


def test_holes_and_logos_are_dropped_and_test_points_kept(board: Description) -> None:
    assert set(board.parts) == {"R1", "C1", "U1", "J1", "TP1"}
    if board.has_values:
        assert any("H1 has no connected pin" in warning for warning in board.warnings)
        assert any("REF** has connected pins but no reference" in warning for warning in board.warnings)


def test_a_pad_number_that_occurs_twice_is_one_pin(board: Description) -> None:
    assert list(board.parts["J1"].pins) == ["1", "GND", "3"]


def test_places_and_outline(board: Description) -> None:
    assert board.layout is not None
    by_edge = board.has_values
    corner = (0.0, 0.0) if by_edge else _corner()
    if by_edge:
        assert board.layout.size == pytest.approx(layouts.SIZE, abs=POSITION_MM)
        assert len(board.layout.outline) == 4
    for part in layouts.PARTS:
        for number, offset, _ in part.pads:
            if part.ref in board.parts and (number, offset) == _last(part, number):
                x, y = layouts.turned(part, offset)
                found = board.layout.places[part.ref].pads[number]
                assert found == pytest.approx((x - corner[0], y - corner[1]), abs=POSITION_MM), (part.ref, number)


def _last(part: layouts.Fitted, number: str) -> tuple[str, layouts.Spot]:
    return [(name, offset) for name, offset, _ in part.pads if name == number][-1]


def _corner() -> layouts.Spot:
    """Where no outline is, positions start from the outermost pads."""
    spots = [layouts.turned(part, offset) for part in layouts.PARTS for number, offset, _ in part.pads
             if part.ref[0] in "RCUJT" and "*" not in part.ref and (number, offset) == _last(part, number)]  # fmt: skip
    return min(x for x, _ in spots), min(y for _, y in spots)


def test_every_format_becomes_a_board(tmp_path: Path) -> None:
    for name, (ending, text) in TEXTS.items():
        (tmp_path / f"{name}{ending}").write_text(text)
        board = load_board(tmp_path / f"{name}{ending}")
        assert board.parts["R1"].kind == "resistor"
        assert board.parts["J1"].kind == "connector"
        assert "0" in board.nets()
        assert "~RESET" in board.nets()
        assert f"{name}{ending}" in board.source
        assert board.parts["TP1"].position is not None


def test_xml_schematic_agrees_with_its_board(tmp_path: Path) -> None:
    """The supply pins of U1 are not drawn; their nets are those of their names."""
    (tmp_path / "board.sch").write_text(layouts.xml_schematic())
    read = describe(tmp_path / "board.sch")
    assert {net: {f"{ref}.{pin}" for ref, pin in pins} for net, pins in read.nets().items()} == layouts.CONNECTED
    assert read.parts["U1"].value == "74LS14"


def test_mirrored_xml_part_is_on_the_bottom(tmp_path: Path) -> None:
    text = layouts.xml().replace('rot="R90"', 'rot="MR90"')
    (tmp_path / "board.brd").write_text(text)
    layout = describe(tmp_path / "board.brd").layout
    assert layout is not None
    assert layout.places["C1"].bottom
    assert not layout.places["R1"].bottom


def test_two_nets_on_one_pad_number(tmp_path: Path) -> None:
    text = layouts.sexpr(20211014).replace('(pad "GND" thru_hole circle (at 2.54 1 180) (size 1 1) (net 1 "GND"))',
                                           '(pad "GND" thru_hole circle (at 2.54 1 180) (size 1 1) (net 4 "OUT"))')
    (tmp_path / "board.kicad_pcb").write_text(text)
    read = describe(tmp_path / "board.kicad_pcb")
    assert {pin: one.net for pin, one in read.parts["J1"].pins.items()} == {"1": "VCC", "GND": "GND", "GND#2": "OUT",
                                                                            "3": "OUT"}  # fmt: skip
    assert any("pad GND of J1 is on more than one net" in warning for warning in read.warnings)


@pytest.mark.parametrize(("edge", "size"), [
    ("(gr_circle (center 10 10) (end 15 10) (layer Edge.Cuts))", (10, 10)),
    ("(gr_rect (start 0 0) (end 30 20) (layer Edge.Cuts))", (30, 20)),
    ("(gr_arc (start 10 10) (end 10 0) (angle 180) (layer Edge.Cuts))", (10, 20)),
    ("(gr_arc (start 10 0) (mid 20 10) (end 10 20) (layer Edge.Cuts))", (10, 20)),
    ("(gr_poly (pts (xy 0 0) (xy 12 0) (xy 12 8)) (layer Edge.Cuts))", (12, 8)),
])  # fmt: skip
def test_edges_of_every_shape(tmp_path: Path, edge: str, size: tuple[float, float]) -> None:
    """Sizes by geometry; arcs are broken into lines of 10°, so a quarter point is met exactly."""
    part = '(module r (layer F.Cu) (at 5 5) (fp_text reference R1) (pad 1 smd (at 0 0) (net 1 A)))'
    (tmp_path / "b.kicad_pcb").write_text(f"(kicad_pcb (version 4) {part} {edge})")
    layout = describe(tmp_path / "b.kicad_pcb").layout
    assert layout is not None
    assert layout.size == pytest.approx(size, abs=0.05)


@pytest.mark.parametrize(("old", "new", "words"), [
    ("(at 110.0 90.0 0)", "(at x 90.0 0)", r"'x' in \(at \.\.\.\) at board.kicad_pcb line \d+"),
    ('"Reference" "C1"', '"Reference" "R1"', r"'R1' a second time at board.kicad_pcb line \d+"),
    ('"Reference" "C1"', '"Reference" "C?"', r"'C\?' of a part with connected pins at board.kicad_pcb line \d+"),
])  # fmt: skip
def test_bad_boards_are_refused_with_their_line(tmp_path: Path, old: str, new: str, words: str) -> None:
    text = layouts.sexpr(20240108)
    assert old in text
    (tmp_path / "board.kicad_pcb").write_text(text.replace(old, new, 1))
    with pytest.raises(BadInput, match=words):
        describe(tmp_path / "board.kicad_pcb")


def test_other_files_are_refused(tmp_path: Path) -> None:
    for name, text in (("a.brd", "hello"), ("a.kicad_pcb", "(module x)"), ("a.brd", "<svg/>"), ("a.sch", "<a><b></a>"),
                       ("b.brd", '<!DOCTYPE x [<!ENTITY a "b">]><design/>')):  # fmt: skip
        (tmp_path / name).write_text(text)
        with pytest.raises(BadInput, match="line 1"):
            describe(tmp_path / name)


def test_layout_of_a_board_file_and_of_its_netlist(tmp_path: Path) -> None:
    (tmp_path / "b.kicad_pcb").write_text(layouts.sexpr(20240108))
    (tmp_path / "b.cir").write_text("title\nR1 a 0 1k\n.end\n")
    (tmp_path / "board.toml").write_text('kilter = 1\nboard = "b"\nnetlist = "b.kicad_pcb"\n')
    (tmp_path / "bare.toml").write_text('kilter = 1\nboard = "b"\n')
    whole = load_layout(tmp_path / "b.kicad_pcb")
    assert whole is not None
    assert whole == load_layout(tmp_path / "board.toml") == load_layout(tmp_path)
    assert load_layout(tmp_path / "bare.toml") is None
    assert load_layout(tmp_path / "b.cir") is None


@pytest.mark.parametrize("unit", ["inch", "mm"])
def test_records_of_another_writer(unit: str) -> None:
    """authorities/boards/: IPC-D-356 by the writer gerbonara, see builders/build_board_authority.py."""
    read = describe(AUTHORITIES / f"records-{unit}.d356")
    wanted = {layouts.LONG_NAMES.get(net, net): pins for net, pins in layouts.CONNECTED.items()}
    assert {net: {f"{ref}.{pin}" for ref, pin in pins} for net, pins in read.nets().items()} == wanted
    assert read.layout is not None
    assert read.layout.size == pytest.approx(layouts.SIZE, abs=POSITION_MM)
    assert [len(line) for line in read.layout.outline] == [5]
    spot = read.layout.places["R1"].pads["2"]
    assert spot == pytest.approx(layouts.turned(layouts.PARTS[0], (10, 0)), abs=POSITION_MM)


def test_parts_that_are_not_fitted_are_left_out_and_said(tmp_path: Path) -> None:
    text = layouts.sexpr(20240108).replace('(footprint "lib:C_Disc"', '(footprint "lib:C_Disc" (attr through_hole dnp)')
    (tmp_path / "b.kicad_pcb").write_text(text)
    read = describe(tmp_path / "b.kicad_pcb")
    assert "C1" not in read.parts
    assert any("C1 is marked as not fitted" in warning for warning in read.warnings)


def test_signs_that_are_written_as_words(tmp_path: Path) -> None:
    """From memory: newer files write a slash inside a net's name as a word in braces; names that meet stay apart."""
    text = layouts.sexpr(20240108).replace('"OUT"', '"A{slash}B"').replace('"VCC"', '"A/B"')
    (tmp_path / "b.kicad_pcb").write_text(text)
    nets = load_board(tmp_path / "b.kicad_pcb").nets()
    assert len({net for net in nets if net.startswith("A/B")}) == 2
