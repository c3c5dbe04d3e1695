"""The part kind behind exact functional boards: its modes, what they do to a block, and what is refused."""

import pytest

from kilter.circuit.board import Block, Board, State
from kilter.importers.load import load_board
from kilter.measure.errors import BadInput, OutOfRange
from kilter.parts.kinds import modes_of, part_kind
from kilter.records.part import Part
from kilter.records.reading import Reading
from kilter.records.test import Test
from kilter.services.diagnose import Diagnoser
from kilter.simulate.activity import ActivityPredictor


def unit(ref, values):
    return Part(ref, "function_unit", {}, number=values)


def number_block(name, kind, parts, values=16, numbers=None, **inputs):
    return Block(name, kind, parts, inputs=inputs, outputs={"out": name}, numbers={"values": values, **(numbers or {})})


def board_of(*blocks, parts=()):
    states = {"on": State("on", powered=True), "off": State("off", powered=False)}
    return Board(
        "b", parts={part.ref: part for part in parts}, blocks={block.name: block for block in blocks}, states=states
    )


TWO = number_block("two", "given", (), numbers={"value": 2})


def shown(board, point, quantity, *faults):
    prediction = ActivityPredictor().predict(
        board, board.states["on"], [frozenset(faults)], [Test(point, quantity, "on")]
    )
    words, chances = prediction.words[0]
    return {word: float(chance) for word, chance in zip(words, chances[0], strict=True) if chance}


@pytest.mark.parametrize("values", [None, 2, 3, 16, 256])
def test_one_mode_for_each_value_with_even_odds(values):
    modes, kind = modes_of(unit("M1", values)), part_kind("function_unit")
    assert [mode.key for mode in modes] == [f"gives {value}" for value in range(values or 16)]
    assert {mode.odds for mode in modes} == {kind.odds / (values or 16)}


@pytest.mark.parametrize("values", [1, 0, -4, 2.5, 257])
def test_a_number_of_values_that_makes_no_sense_is_refused(values):
    with pytest.raises(OutOfRange) as caught:
        modes_of(unit("M1", values))
    assert "M1" in caught.value.doing
    assert f"{values:g}" in caught.value.found


@pytest.mark.parametrize("value", range(16))
def test_a_block_of_numbers_holds_the_value_and_passes_it_on(value):
    """2 times the value, modulo 16: worked by Python's own arithmetic."""
    board = board_of(
        TWO,
        number_block("m", "multiplier", ("M1",), a="two", b="two"),
        number_block("n", "multiplier", (), a="two", b="m"),
        parts=[unit("M1", 16)],
    )
    assert shown(board, "m", "value", ("M1", f"gives {value}")) == {str(value): 1.0}
    assert shown(board, "n", "value", ("M1", f"gives {value}")) == {str(2 * value % 16): 1.0}
    assert shown(board, "n", "value") == {"8": 1.0}


@pytest.mark.parametrize(("value", "word"), [(0, "low"), (1, "high")])
def test_a_gate_holds_its_level_and_counts_as_a_number_where_it_feeds_an_adder(value, word):
    gate = Block("g", "not", ("U1",), inputs={"in": "two"}, outputs={"out": "g"})
    board = board_of(TWO, gate, number_block("s", "adder", (), a="g", b="two"), parts=[unit("U1", 2)])
    assert shown(board, "g", "level", ("U1", f"gives {value}")) == {word: 1.0}
    assert shown(board, "s", "value", ("U1", f"gives {value}")) == {str(2 + value): 1.0}


def test_a_value_that_the_block_cannot_give_is_refused():
    board = board_of(TWO, number_block("m", "adder", ("M1",), values=4, a="two"), parts=[unit("M1", 8)])
    with pytest.raises(BadInput) as caught:
        shown(board, "m", "value", ("M1", "gives 4"))
    assert "from 0 to 3" in caught.value.allowed
    assert "[parts.M1]" in caught.value.do_next


def test_two_members_that_hold_different_values_leave_it_unknown():
    board = board_of(
        TWO, number_block("m", "adder", ("M1", "M2"), values=4, a="two"), parts=[unit("M1", 4), unit("M2", 4)]
    )
    assert shown(board, "m", "value", ("M1", "gives 1"), ("M2", "gives 1")) == {"1": 1.0}
    for first, second in (("1", "3"), ("3", "1")):
        faults = ("M1", f"gives {first}"), ("M2", f"gives {second}")
        assert shown(board, "m", "value", *faults) == dict.fromkeys("0123", 0.25)


def test_readings_that_no_fault_set_can_give_are_refused_where_all_are_believed():
    """A number given from outside cannot be wrong; nor can two readings of one line differ."""
    board = board_of(TWO, number_block("m", "adder", ("M1",), a="two"), parts=[unit("M1", 16)])
    read = [Reading("m", "value", None, word, state="on") for word in ("5", "7")]
    with pytest.raises(BadInput) as caught:
        Diagnoser(board, outside=0.0, gross=0.0).diagnose(read)
    assert "value at m" in caught.value.doing
    assert Diagnoser(board, gross=0.0).diagnose(read).posterior.not_in_model == pytest.approx(1.0)
    assert Diagnoser(board).diagnose(read).posterior.parts()["M1"] > 0.0


@pytest.mark.parametrize(("value", "number"), [("16", 16), ("2", 2)])
def test_the_board_file_gives_the_number_of_values(tmp_path, value, number):
    file = tmp_path / "board.toml"
    file.write_text(f'kilter = 1\nboard = "b"\n[parts.M1]\nkind = "function_unit"\nvalue = "{value}"\n')
    assert load_board(file).parts["M1"].number == number


@pytest.mark.parametrize("value", ["1", "three", "2.5", "1000"])
def test_the_board_file_refuses_a_number_of_values_that_makes_no_sense(tmp_path, value):
    file = tmp_path / "board.toml"
    file.write_text(f'kilter = 1\nboard = "b"\n[parts.M1]\nkind = "function_unit"\nvalue = "{value}"\n')
    with pytest.raises(BadInput) as caught:
        load_board(file)
    assert "M1" in str(caught.value)
