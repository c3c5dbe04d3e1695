"""The recap list: values and ratings against hand tables, voltages against closed forms, cells that are no formulas."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import openpyxl
import pytest

from kilter.circuit.board import GROUND, Board, Rail
from kilter.cli.main import run
from kilter.exporters.recap_table import HEADS, recap_page, recap_rows
from kilter.exporters.spreadsheet import csv_bytes, workbook
from kilter.planning.recap import ages, new_capacitance, new_rating, rated_volts
from kilter.records.part import Part
from kilter.services.recap_list import recap_list
from kilter.wiring.loading import load_board

DEMO = "src/kilter/data/demo"
TRADE = [(8, 10), (16, 15), (32, 33), (50, 47), (100, 100), (25, 22), (250, 220), (500, 470), (4, 4.7), (2, 2.2)]
"""Old values and those bought for them, in µF: the first four as trade tables have them, the others likewise."""

DIVIDER = """
kilter = 1
board = "two electrolytics on a divider"
netlist = "divider.cir"
[parts]
C1 = { kind = "electrolytic", notes = ["25 V"] }
C2 = { kind = "electrolytic", limits = { volts = "10 V" } }
[states.off]
powered = false
[states.on]
powered = true
"""
CIRCUIT = """* divider
V1 in 0 20
R1 in mid 1k
R2 mid 0 1k
C1 in 0 100u
C2 mid 0 47u
.end
"""


@pytest.fixture
def divider(tmp_path: Path) -> Path:
    """20 V over two equal resistors, an electrolytic over the whole and one over the lower half."""
    (tmp_path / "divider.cir").write_text(CIRCUIT)
    (tmp_path / "board.toml").write_text(DIVIDER)
    return tmp_path / "board.toml"


@pytest.mark.parametrize(("old", "new"), TRADE)
def test_old_values_become_preferred_ones(old: float, new: float) -> None:
    assert new_capacitance("electrolytic", old * 1e-6) == pytest.approx(new * 1e-6)


@pytest.mark.parametrize(("volts", "held", "wanted"), [(16, 12, 16), (16, 16, 25), (350, 280, 350), (15, 10, 16),
                         (6, 5, 6.3), (None, 12, 16), (450, 380, 500), (12, None, 16)])  # fmt: skip
def test_ratings(volts: float | None, held: float | None, wanted: float) -> None:
    """Never below the original, 1.25 times what is held, then the next rating that is sold; worked by hand."""
    assert new_rating("electrolytic", volts, held)[0] == wanted


def test_a_tantalum_gets_twice_the_rail() -> None:
    """Makers' advice of long standing: 5 V asks for 10 V, 5.25 V for 16 V."""
    assert new_rating("tantalum", 6.3, 5.0)[0] == 10
    assert new_rating("tantalum", 6.3, 5.25)[0] == 16


def test_nothing_is_made_up() -> None:
    assert new_rating("electrolytic", None, None) == (None, "")
    assert new_rating("electrolytic", 600.0, None)[0] is None
    found = recap_list(Board("bare", {"C1": Part("C1", "electrolytic", {})}))
    line = found.lines[0]
    assert (line.new_capacitance, line.new_volts, line.plus, line.settled) == (None, None, "", False)
    assert found.to_buy() == []
    assert any("read it on the part" in note for note in line.notes)
    assert any("which leg is positive" in note for note in line.notes)


def test_voltages_are_those_of_the_circuit(divider: Path) -> None:
    """Closed form: 20 V and 10 V, times 1.1 for the mains."""
    first, second = recap_list(load_board(divider)).lines
    assert first.held == pytest.approx(22.0, rel=1e-3)
    assert second.held == pytest.approx(11.0, rel=1e-3)
    assert (first.volts, second.volts) == (25.0, 10.0)
    assert (first.new_volts, second.new_volts) == (35, 16)  # 27.5 and 13.75
    assert any("more than its rating" in note for note in second.notes)


def test_a_rail_without_a_circuit_tells_the_voltage_and_the_plus_side() -> None:
    parts = {"C1": Part("C1", "electrolytic", {"1": "hv", "2": GROUND}, "8u", 8e-6),
             "C2": Part("C2", "electrolytic", {"1": GROUND, "2": "neg"}, "10u", 1e-5, limits={"volts": 16.0}),
             }  # fmt: skip
    rails = {"HT": Rail("HT", "hv", 250.0, 220.0, 280.0), "VN": Rail("VN", "neg", -12.0, -13.0, -11.0)}
    first, second = recap_list(Board("rails", parts, rails=rails)).lines
    assert (first.held, first.plus, first.new_volts, first.settled) == (280.0, "HT", 350, False)
    assert (second.plus, second.settled) == ("ground", True)
    assert second.held == 13.0


def test_what_ages() -> None:
    assert ages(Part("C1", "electrolytic", {}))
    assert ages(Part("C2", "paper", {}))
    assert ages(Part("C3", "capacitor", {}, number=47e-6))
    assert ages(Part("C4", "capacitor", {}))
    assert not ages(Part("C5", "capacitor", {}, number=1e-9))
    assert not ages(Part("C6", "ceramic", {}))
    assert not ages(Part("R1", "resistor", {}))


def test_two_voltages_in_the_notes_are_not_decided() -> None:
    assert rated_volts(Part("C1", "electrolytic", {}, notes=("16 V", "or 25 V?"))) is None


NASTY = "=HYPERLINK(1)"


def nasty() -> Board:
    return Board("=1+1", {NASTY: Part(NASTY, "electrolytic", {}, "47u 16V", 47e-6, notes=("@SUM(A1)", "+2", "<b>"))})


def test_no_cell_of_the_csv_is_a_formula() -> None:
    rows = list(csv.reader(io.StringIO(csv_bytes(HEADS, recap_rows(recap_list(nasty()))).decode("utf-8-sig"))))
    assert rows[0] == list(HEADS)
    assert rows[1][0] == f"'{NASTY}"
    assert not any(cell.lstrip().startswith(("=", "+", "-", "@")) for row in rows for cell in row)


def test_no_cell_of_the_workbook_is_a_formula() -> None:
    data = workbook("capacitors", HEADS, recap_rows(recap_list(nasty())))
    sheet = openpyxl.load_workbook(io.BytesIO(data)).active
    assert sheet is not None
    assert sheet["A2"].value == NASTY
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s", "inlineStr", "n"}


def test_the_page_runs_nothing() -> None:
    page = recap_page(recap_list(nasty()))
    assert "<b>" not in page
    assert "<script" not in page
    assert "http" not in page


def test_the_command_on_the_demonstration_board(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ten of its capacitors are electrolytic or tantalum in the netlist's parts table, and C1 alone says its rating."""
    files = [tmp_path / name for name in ("list.csv", "list.xlsx", "list.html")]
    code = run(["recap", DEMO, "--csv", str(files[0]), "--xlsx", str(files[1]), "--page", str(files[2]), "--json"])
    told = json.loads(capsys.readouterr().out)
    assert code == 3
    assert len(told["lines"]) == 10
    assert told["to_buy"] == [{"kind": "electrolytic", "capacitance": pytest.approx(2200e-6), "volts": 25, "count": 1}]
    assert "C1" not in told["unsettled"]
    assert all(path.stat().st_size > 500 for path in files)
    assert run(["recap", DEMO, "--csv", str(files[0])]) == 2
    assert "new file" in capsys.readouterr().err
