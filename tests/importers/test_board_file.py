"""Board files: the example of docs/board-file.md and the rules it states."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kilter.circuit.board import Board, Need
from kilter.circuit.check import check_board
from kilter.importers.load import load_board
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of
from kilter.records.history import Label, Seen

DOCS = Path(__file__).parents[2] / "docs" / "board-file.md"

NETLIST = """A small supply
V1 in 0 9
R1 in vcc 100
C1 vcc 0 470u
R3 vcc q3c 1k
Q3 q3c b 0 qn
R2 vcc b 100k
RS1 vcc 0 1k
.model qn npn
"""


def write(folder: Path, text: str, netlist: str = NETLIST) -> Path:
    (folder / "supply.cir").write_text(netlist)
    (folder / "board.toml").write_text(text)
    return folder / "board.toml"


def small(folder: Path, extra: str) -> Board:
    return load_board(write(folder, f'kilter = 1\nboard = "Small"\nnetlist = "supply.cir"\n{extra}'))


@pytest.fixture
def documented(tmp_path: Path) -> Board:
    """The example of the page."""
    match = re.search(r"```toml\n(.*?)```", DOCS.read_text("utf-8"), re.DOTALL)
    assert match
    write(tmp_path, match[1])
    return load_board(tmp_path)


def test_example_of_the_page(documented: Board) -> None:
    assert documented.name == "Supply of the demo organ"
    assert documented.revision == "B"
    assert documented.parts["C1"].kind == "electrolytic"
    assert documented.parts["C1"].tolerance == 0.2
    assert documented.parts["C1"].position == (42.0, 18.5)
    assert documented.rails["V5"].net == "vcc"
    assert (documented.rails["V5"].low, documented.rails["V5"].high) == (4.75, 5.25)
    assert documented.points["TP1"].net == "vcc"
    assert documented.blocks["clock"].numbers == {"frequency": 4e6}
    assert documented.blocks["divider"].inputs == {"in": "clk"}
    assert documented.blocks["amplifier"].needs == (Need("q3c", 4.0, 8.0),)
    assert documented.states["bench"].supplies == {"V1": 9.0}
    assert documented.states["bench"].modes == {"RS1": "closed"}
    assert documented.history.labels == (Label("U5", "", 0.3, "old label: 'counter dead'"),)
    assert documented.history.seen == (Seen("C1", "bulged"),)


def test_draws_is_a_resistor_by_ohms_law(documented: Board) -> None:
    load = documented.elements["R_U5.load"]
    assert load.value == pytest.approx(5.0 / 0.030)  # Ohm's law
    assert (load.nodes, load.part, load.tolerance) == (("vcc", "0"), "U5", 0.3)


def test_tolerance_reaches_the_element(documented: Board) -> None:
    assert documented.elements["C1"].tolerance == 0.2
    assert documented.elements["R2"].tolerance is None


def test_every_part_has_modes_and_nothing_is_wrong(documented: Board) -> None:
    assert not [finding for finding in check_board(documented, modes_of) if finding.level == "wrong"]


def test_undeclared_nets_may_be_read_but_are_not_asked_for(documented: Board) -> None:
    assert documented.points["q3c"].reachable is False
    assert documented.points["clk"].reachable is True
    assert "vcc" not in documented.points  # TP1 is there


def test_names_in_any_case(tmp_path: Path) -> None:
    points = '[points.TP]\nnet = "VCC"\nagainst = "GND"\n'
    board = small(tmp_path, f'[parts.c1]\nsocketed = true\n{points}[rails.V]\nnet = "Vcc"\nnominal = 9\n')
    assert board.parts["C1"].socketed
    assert (board.points["TP"].net, board.points["TP"].against) == ("vcc", "0")
    assert board.rails["V"].net == "vcc"


def test_value_corrects_the_element(tmp_path: Path) -> None:
    board = small(tmp_path, '[parts.R1]\nvalue = "4k7"\n')
    assert board.elements["R1"].value == board.parts["R1"].number == 4700.0


def test_kind_said_is_no_guess(tmp_path: Path) -> None:
    assert any(guess.startswith("C1 ") for guess in small(tmp_path, "").guesses)
    board = small(tmp_path, '[parts.C1]\nkind = "tantalum"\n')
    assert board.parts["C1"].kind == "tantalum"
    assert not any(guess.startswith("C1 ") for guess in board.guesses)


def test_pins_renamed(tmp_path: Path) -> None:
    board = small(tmp_path, '[parts.Q3]\npins = { collector = "q3c", base = "b", emitter = "gnd" }\n')
    assert board.parts["Q3"].pins == {"collector": "q3c", "base": "b", "emitter": "0"}


def test_states_are_added(tmp_path: Path) -> None:
    assert list(small(tmp_path, "").states) == ["off", "on"]
    assert list(small(tmp_path, "[states.bench]\npowered = true\n").states) == ["off", "bench"]
    assert list(small(tmp_path, "[states.drawer]\npowered = false\n").states) == ["drawer", "on"]


def test_board_of_blocks_only(tmp_path: Path) -> None:
    text = """kilter = 1
board = "Counter"
[rails.V5]
nominal = "5 V"
[parts.U5]
draws = "30 mA"
[blocks.clock]
kind = "oscillator"
parts = ["X1", "U3"]
rails = ["V5"]
outputs = { out = "clk" }
frequency = "4 MHz"
[blocks.U5]
kind = "divider"
rails = ["V5"]
inputs = { in = "CLK" }
outputs = { out = "clk4" }
divide = 4
"""
    board = load_board(write(tmp_path, text))
    assert not board.elements
    assert any("draws" in warning for warning in board.warnings)
    assert {ref: part.kind for ref, part in board.parts.items()} == {"U5": "chip", "X1": "crystal", "U3": "chip"}
    assert board.blocks["U5"].parts == ("U5",)
    assert board.blocks["U5"].inputs == {"in": "clk"}
    assert {"clk", "clk4"} == set(board.points)
    assert len(board.guesses) == 4  # three kinds and the band of the rail


def test_negative_rail(tmp_path: Path) -> None:
    board = small(tmp_path, '[rails.VN]\nnet = "q3c"\nnominal = "-12 V"\n')
    assert board.rails["VN"].low < -12 < board.rails["VN"].high < 0


def test_number_near_a_known_one_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="'divide'"):
        small(tmp_path, '[blocks.d]\nkind = "divider"\nparts = ["Q3"]\ndivid = 4\n')


def test_folder_and_file_are_the_same_board(tmp_path: Path) -> None:
    path = write(tmp_path, 'kilter = 1\nboard = "Small"\nnetlist = "supply.cir"\n')
    assert load_board(path) == load_board(tmp_path)
