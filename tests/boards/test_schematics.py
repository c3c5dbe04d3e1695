"""
Schematics of three formats against an independent reader, and the rules that broke real files.

Expected nets: authorities/boards/*.json, made by builders/build_board_authority.py with a separate implementation
(import name kicad_monkey). What that reader does differently is tested beside it and says where its rule comes from.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import drawings
import drawn
import pytest
from drawn import Below, Item, Label, Part, Sheets, Wire

from kilter.importers.description import Description
from kilter.importers.formats import describe
from kilter.measure.errors import BadInput

AUTHORITIES = Path(__file__).resolve().parents[2] / "authorities" / "boards"
FORMATS = ["2021", "2023", "legacy"]
Draw = Callable[..., Description]


@pytest.fixture(params=FORMATS)
def draw(request: pytest.FixtureRequest, tmp_path: Path) -> Draw:
    """Writes a drawing in one of the formats and reads it."""

    def drawn_and_read(sheets: Sheets, uses: dict[str, list[str]] | None = None) -> Description:
        if request.param == "legacy":
            return describe(drawn.write_legacy(tmp_path, sheets, uses=uses))
        version = 20211123 if request.param == "2021" else 20231120
        return describe(drawn.write_sexpr(tmp_path, sheets, version, uses=uses))

    return drawn_and_read


def joined(description: Description) -> set[frozenset[str]]:
    """The nets as sets of 'reference.pin'."""
    return {frozenset(f"{ref}.{pin}" for ref, pin in pins) for pins in description.nets().values()}


def authority(name: str) -> dict[str, list[str]]:
    nets: dict[str, list[str]] = json.loads((AUTHORITIES / f"{name}.json").read_text())["nets"]
    return nets


@pytest.mark.parametrize("name", ["powered", "crossed", "sheets"])
def test_nets_agree_with_an_independent_reader(draw: Draw, name: str) -> None:
    made = getattr(drawings, name)()
    sheets, uses = made if isinstance(made, tuple) else (made, None)
    expected = {frozenset(pins) for pins in authority(name).values()}
    assert joined(draw(sheets, uses)) == expected
    assert len(expected) >= 2


@pytest.mark.parametrize("name", ["powered", "sheets", "crossed"])
def test_net_names_agree_with_an_independent_reader(tmp_path: Path, name: str) -> None:
    made = getattr(drawings, name)()
    sheets, uses = made if isinstance(made, tuple) else (made, None)
    read = describe(drawn.write_sexpr(tmp_path, sheets, 20231120, uses=uses))
    assert set(read.nets()) == set(authority(name))


@pytest.mark.parametrize("version", [20211123, 20231120])
def test_mirrored_and_turned_symbols(tmp_path: Path, version: int) -> None:
    """All twelve ways; mirroring comes after turning, else the pins of a turned symbol change places."""
    read = describe(drawn.write_sexpr(tmp_path, drawings.turned(), version))
    found = {name: [f"{ref}.{pin}" for ref, pin in pins] for name, pins in read.nets().items()}
    assert found == authority("turned")
    assert len(found) == 36


def test_a_flag_joins_nothing(draw: Draw) -> None:
    """The flag 'this net is supplied' sits on VCC and on GND; once it was read as a power symbol, and joined them."""
    nets = draw(drawings.powered()).nets()
    assert ("R1", "1") in nets["VCC"]
    assert ("R1", "2") in nets["GND"]


def test_hidden_supply_pins_join_the_net_of_their_name(draw: Draw) -> None:
    nets = draw(drawings.powered()).nets()
    assert ("U1", "14") in nets["VCC"]
    assert ("U1", "7") in nets["GND"]


def test_units_of_one_reference_are_one_part(draw: Draw) -> None:
    read = draw(drawings.powered())
    assert set(read.parts["U1"].pins) == {"1", "2", "4", "5", "7", "14"}
    assert read.parts["U1"].pin_count == 8


def test_power_symbol_with_a_tilde_for_a_value_is_named_by_its_pin(draw: Draw) -> None:
    """Seen in published schematics; the independent reader names such a net '~'."""
    assert {("R1", "2"), ("R2", "2")} <= set(draw(drawings.nameless()).nets()["GND"])


def test_power_symbol_of_another_value(tmp_path: Path) -> None:
    """Old programs named the net by the pin, those from 2022 on by the value (from memory; the pin: the old source)."""
    old = describe(drawn.write_sexpr(tmp_path, drawings.nameless(), 20211123)).nets()
    assert {("R3", "1"), ("R4", "1")} <= set(old["VCC"])
    new = describe(drawn.write_sexpr(tmp_path, drawings.nameless(), 20231120)).nets()
    assert new["+5V"] == [("R3", "1")]


def test_a_sheet_used_twice_has_other_references_each_time(draw: Draw) -> None:
    read = draw(*drawings.sheets())
    assert {"R11", "R21", "R15", "R25"} <= set(read.parts)
    assert read.parts["R13"].pins["1"].net != read.parts["R23"].pins["1"].net


def test_overbar_is_no_bus() -> None:
    from kilter.importers.bus_names import bus_members

    assert bus_members("~{RESET}") == ()
    assert bus_members("~{CS}[0..1]") == ("~{CS}0", "~{CS}1")
    assert bus_members("{A B}") == ("A", "B")
    assert bus_members("MEM{A[0..1] ~{WR}}") == ("MEM.A0", "MEM.A1", "MEM.~{WR}")


def test_unannotated_references_are_refused(draw: Draw) -> None:
    sheets: Sheets = {"q": [Part("RES", ("R?",), (0, 0)), Part("RES", ("R?",), (1000, 0)), Wire((0, 150), (1000, 150))]}
    with pytest.raises(BadInput, match=r"'R\?'.*line \d+.*Annotate"):
        draw(sheets)


def test_one_unit_twice_is_refused(draw: Draw) -> None:
    sheets: Sheets = {"q": [Part("RES", ("R1",), (0, 0)), Part("RES", ("R1",), (1000, 0)), Wire((0, 150), (1000, 150))]}
    with pytest.raises(BadInput, match=r"unit 1 of R1 a second time at .* line \d+ \(first at"):
        draw(sheets)


def test_legacy_schematic_without_its_library_is_refused(tmp_path: Path) -> None:
    path = drawn.write_legacy(tmp_path, drawings.powered())
    (tmp_path / "powered-cache.lib").unlink()
    with pytest.raises(BadInput, match=r"in no library: 't:RES' \(powered\.sch line \d+\).*'powered-cache\.lib'"):
        describe(path)


def test_sheet_that_holds_itself_is_refused(draw: Draw) -> None:
    items: list[Item] = [Part("RES", ("R1",), (0, 0)), Label("A", (0, 150)), Below("again", "loop", (0, 0))]
    with pytest.raises(BadInput, match="inside itself at loop"):
        draw({"loop": items})


def test_sheet_that_is_absent_or_elsewhere_is_refused(draw: Draw) -> None:
    with pytest.raises(BadInput, match="which is not there"):
        draw({"top": [Below("gone", "gone", (0, 0))]})
    with pytest.raises(BadInput, match="outside the folder"):
        draw({"top": [Below("up", "../up", (0, 0))]})


def test_sheet_fields_in_another_language(tmp_path: Path) -> None:
    """Seen in a published schematic: the names of the two fields of a sheet are translated."""
    sheets, uses = drawings.sheets()
    path = drawn.write_sexpr(tmp_path, sheets, 20211123, uses=uses)
    path.write_text(path.read_text().replace('"Sheetname"', '"Nom feuille"').replace('"Sheetfile"', '"Fichier"'))
    assert joined(describe(path)) == {frozenset(pins) for pins in authority("sheets").values()}


def test_groups_on_a_bus_meet_by_name(tmp_path: Path) -> None:
    """Members of a group meet by their names, those of vectors in their order (from memory, no source)."""
    top: list[Item] = [
        Below("a", "a", (0, 0), [("M{WR RD}", (3000, 1000))]), Below("b", "b", (0, 0), [("{RD WR}", (2000, 1000))]),
        Wire((2000, 1000), (3000, 1000), "bus"), Label("{WR RD}", (2500, 1000)),
    ]  # fmt: skip
    below = {
        name: [Label(bus, (0, 0), "hierarchical_label"), Wire((0, 0), (500, 0), "bus"),
               Part("RES", (f"R{number}1",), (1000, 150)), Label(names[0], (1000, 0)),
               Part("RES", (f"R{number}2",), (2000, 150)), Label(names[1], (2000, 0))]
        for name, bus, names, number in (("a", "M{WR RD}", ("M.WR", "M.RD"), 1), ("b", "{RD WR}", ("WR", "RD"), 2))
    }  # fmt: skip
    uses = {"top": ["/"], "a": ["/a/"], "b": ["/b/"]}
    nets = joined(describe(drawn.write_sexpr(tmp_path, {"top": top, **below}, 20231120, uses=uses)))
    assert {frozenset({"R11.1", "R21.1"}), frozenset({"R12.1", "R22.1"})} <= nets


def test_a_group_that_holds_itself_many_times_is_given_up() -> None:
    from kilter.importers.bus_names import bus_members

    assert bus_members("{A}", {"A": ["X{A}"] * 1000}) == ()
    assert bus_members("D[0..999999]") == ()
    assert bus_members("{}") == ()


@pytest.mark.parametrize("mark", ["(dnp yes)", "(on_board no)"])
def test_symbols_that_are_not_on_the_board(tmp_path: Path, mark: str) -> None:
    path = drawn.write_sexpr(tmp_path, drawings.powered(), 20231120)
    path.write_text(path.read_text().replace('(property "Reference" "R2"', f'{mark} (property "Reference" "R2"'))
    read = describe(path)
    assert "R2" not in read.parts
    assert any("R2 is marked as not fitted" in warning for warning in read.warnings)
