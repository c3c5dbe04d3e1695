"""
What is concluded from a bare netlist.

Supply pins of the 74 series, regulators and name spellings: common practice, no source, or from memory where the data
file says so. The rest by construction.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import layouts
import pytest

from kilter.circuit.board import GROUND, Board
from kilter.circuit.inference import infer
from kilter.circuit.inference.inference import DOUBT
from kilter.circuit.inference.kinds import function_number, kind_of_type, kind_of_words
from kilter.circuit.inference.names import voltage_of
from kilter.importers.load import load_board
from kilter.parts.kinds import part_kinds
from kilter.records.part import Part


def chip(ref: str, value: str, supply: str = "14", ground: str = "7", kind: str = "logic", **more: str) -> Part:
    return Part(ref, kind, {supply: "+5V", ground: GROUND, **more}, value)


def two(ref: str, kind: str, one: str, other: str, number: float | None = None) -> Part:
    return Part(ref, kind, {"1": one, "2": other}, "", number)


BOARD = Board("b", parts={part.ref: part for part in (
    chip("U1", "74LS00", p1="SIG", p2="IN"), chip("U2", "74LS92", "5", "10", p1="SIG"),
    two("C1", "capacitor", "+5V", GROUND, 100e-9), two("C2", "electrolytic", GROUND, "+5V", 10e-6),
    two("R1", "resistor", "+5V", "SIG", 10e3), two("R2", "resistor", "+5V", "SIG", 47.0),
    two("R3", "resistor", "SIG", GROUND, 10e3),
    two("Y1", "crystal", "XA", "XB"), two("C3", "ceramic", "XA", GROUND, 22e-12),
    two("C4", "ceramic", "XB", GROUND, 22e-12), two("C5", "ceramic", "XB", GROUND, 1e-6),
    Part("RN1", "resistor_network", {"1": "+5V", "2": "SIG", "3": "IN", "4": "D3"}, "4x10k", 10e3),
    Part("U3", "regulator", {"in": "VRAW", "gnd": GROUND, "out": "VCC"}, "7805"),
    two("C6", "capacitor", "VRAW", GROUND, 1e-3),
)})  # fmt: skip


def test_rails_from_names_and_regulators() -> None:
    board, _ = infer(BOARD)
    assert {name: rail.nominal for name, rail in board.rails.items()} == {"+5V": 5.0, "VCC": 5.0}
    assert board.rails["+5V"].low == pytest.approx(4.75)
    assert any("U3 (7805) is taken to make 5 V on VCC" in guess for guess in board.guesses)


def test_a_supply_without_a_voltage_is_asked_about() -> None:
    parts = {ref: part for ref, part in BOARD.parts.items() if ref != "U3"}
    parts["U9"] = Part("U9", "chip", {"1": "VDD", "2": GROUND}, "X1")
    parts["U8"] = Part("U8", "chip", {"1": "VDD", "2": GROUND}, "X1")
    board, _ = infer(replace(BOARD, parts=parts))
    assert not any(rail.net == "VDD" for rail in board.rails.values())
    assert any("VDD looks like a supply" in warning and "[rails.VDD]" in warning for warning in board.warnings)


def test_roles_of_passive_parts() -> None:
    board, found = infer(BOARD)
    roles = {ref: part.notes for ref, part in board.parts.items() if part.notes}
    assert roles == {"C1": ("decouples +5V",), "C2": ("decouples +5V",), "R1": ("pulls up to +5V",),
                     "RN1": ("pulls up to +5V",), "C3": ("loads Y1",), "C4": ("loads Y1",)}  # fmt: skip
    assert all(one.words for one in found)
    for rule in ("rail", "decoupling", "pull-up", "crystal", "regulator", "supply pins"):
        assert any(one.rule == rule for one in found), rule


def test_everything_concluded_is_listed() -> None:
    board, found = infer(BOARD)
    assert set(board.guesses) == {one.words for one in found if one.level != DOUBT}
    assert set(board.warnings) == {one.words for one in found if one.level == DOUBT}


def test_supply_pins_by_corner_and_the_odd_ones() -> None:
    board, _ = infer(BOARD, {"U1": 14, "U2": 14})
    assert board.parts["U1"].pins["vcc"] == "+5V"
    assert board.parts["U1"].pins["gnd"] == GROUND
    assert list(board.parts["U2"].pins)[:2] == ["vcc", "gnd"]


def test_supply_pins_that_do_not_fit_are_doubted_and_not_guessed() -> None:
    wrong = replace(BOARD, parts=dict(BOARD.parts) | {"U1": chip("U1", "74LS00", "5", "10")})
    board, _ = infer(wrong, {"U1": 14})
    assert "vcc" not in board.parts["U1"].pins
    assert any("Pin 14 of U1 (74LS00) should be on a supply and is on no net" in warning for warning in board.warnings)


def test_a_regulator_against_the_name_of_its_output() -> None:
    part = Part("U3", "regulator", {"in": "VRAW", "gnd": GROUND, "out": "+12V"}, "7805")
    board, _ = infer(replace(BOARD, parts=dict(BOARD.parts) | {"U3": part}))
    assert any("U3 (7805) makes 5 V, but its output is on the net +12V" in warning for warning in board.warnings)


@pytest.mark.parametrize(("names", "ground"), [
    (["GND", "VSS", "+5V"], "GND"), (["VSS", "+5V", "A"], "VSS"), (["/0V", "+5V", "A"], "/0V"),
])  # fmt: skip
def test_ground_by_name(names: list[str], ground: str) -> None:
    parts = {f"R{n}": two(f"R{n}", "resistor", one, names[1], 1e3) for n, one in enumerate(names) if n != 1}
    board, found = infer(Board("b", parts=parts))
    assert found[0].subjects == (ground,)
    assert GROUND in board.nets()
    assert ground not in board.nets()


def test_ground_without_a_name_is_a_doubt() -> None:
    parts = {f"R{n}": two(f"R{n}", "resistor", "X", f"N{n}", 1e3) for n in range(4)}
    board, found = infer(Board("b", parts=parts))
    assert found[0].level == DOUBT
    assert "has the most pins (4)" in found[0].words
    assert len(board.nets()[GROUND]) == 4


@pytest.mark.parametrize(("name", "volts"), [
    ("+5V", 5.0), ("-12V", -12.0), ("+3V3", 3.3), ("+3.3V", 3.3), ("/psu/15V", 15.0), ("+5VA", 5.0), ("VCC", None),
    ("+5V_EN", None), ("A15", None), ("+1V8", 1.8), ("Net-(R5-Pad2)", None), ("0V", 0.0),
])  # fmt: skip
def test_voltages_in_names(name: str, volts: float | None) -> None:
    assert voltage_of(name) == volts


@pytest.mark.parametrize(("word", "kind"), [
    ("SN74LS138N", "logic"), ("74HC193", "counter"), ("CD4040BE", "counter"), ("4116-20", "memory"), ("2114", "memory"),
    ("HM6264LP", "memory"), ("27C256", "rom"), ("2716", "rom"), ("AT28C64B", "rom"), ("Z80A", "processor"),
    ("MC68000P8", "processor"), ("6502", "processor"), ("W65C02S", "processor"), ("TL074CN", "opamp"),
    ("NE5532", "opamp"), ("LM7805", "regulator"), ("LM317T", "regulator"), ("GAL16V8", "logic"), ("'HC161", "counter"),
    ("MAX232", None), ("NE555", None), ("8255", None),
])  # fmt: skip
def test_kinds_by_type(word: str, kind: str | None) -> None:
    """Types as their data sheets name them, from memory."""
    assert kind_of_type(word) == kind


def test_kinds_by_words_and_functions() -> None:
    assert kind_of_words("X3", "Connector:Conn_01x08") == "connector"
    assert kind_of_words("C4", "Capacitor_THT:CP_Radial_D5.0mm") == "electrolytic"
    assert kind_of_words("W3", "Jumper") == "connector"
    assert function_number("SN74HCT92N") == "7492"


def test_kinds_in_the_data_exist() -> None:
    from kilter.measure.tables import table

    rules = table("board_inference")
    named = {row["kind"] for row in (*rules["chips"], *rules["prefixes"])}
    named |= {*rules["rails"]["kinds"], *rules["pull_up"]["kinds"], *rules["supply_pins"]["corner"]["kinds"]}
    assert named <= set(part_kinds())


def test_a_board_file_corrects_rails_ground_and_kinds(tmp_path: Path) -> None:
    (tmp_path / "b.kicad_pcb").write_text(layouts.sexpr(20240108))
    (tmp_path / "b.toml").write_text(
        'kilter = 1\nboard = "b"\nnetlist = "b.kicad_pcb"\n[parts.J1]\nkind = "switch"\n'
        '[rails.logic]\nnet = "VCC"\nnominal = "5 V"\n'
    )
    board = load_board(tmp_path / "b.toml")
    assert board.rails["logic"].net == "VCC"
    assert not any("VCC looks like" in warning for warning in board.warnings)
    assert board.parts["J1"].kind == "switch"
    assert not any(guess.startswith("J1 is taken as") for guess in board.guesses)
    (tmp_path / "b.toml").write_text('kilter = 1\nboard = "b"\nnetlist = "b.kicad_pcb"\nground = "OUT"\n')
    board = load_board(tmp_path / "b.toml")
    assert {"J1.3", "TP1.1"} <= set(board.nets()[GROUND])
    assert "GND" in board.nets()


def test_inferred_rails_reach_the_board_file(tmp_path: Path) -> None:
    (tmp_path / "b.kicad_pcb").write_text(layouts.sexpr(20240108).replace("VCC", "+5V"))
    (tmp_path / "b.toml").write_text('kilter = 1\nboard = "b"\nnetlist = "b.kicad_pcb"\n')
    assert load_board(tmp_path / "b.toml").rails["+5V"].nominal == 5.0
    (tmp_path / "b.toml").write_text(
        'kilter = 1\nboard = "b"\nnetlist = "b.kicad_pcb"\n[rails.main]\nnet = "+5V"\nnominal = "5.1 V"\n'
    )
    assert {name: rail.nominal for name, rail in load_board(tmp_path / "b.toml").rails.items()} == {"main": 5.1}
